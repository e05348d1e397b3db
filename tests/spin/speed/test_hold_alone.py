"""A recording of a hold alone, and a spin after minutes in which only a hum could be followed."""

import numpy as np
import pytest
from tests.spin.shared import made

from counterpoise.spin.reading import read_spin
from counterpoise.spin.speed.harmonics import without_strays


def held(hz, second_ms2, seconds=26.0, rate=60.0):
    rng = np.random.default_rng(3)
    t = np.arange(0, seconds, 1 / rate)
    acc = rng.normal(0, 0.01, (len(t), 3)) + np.array([0.0, 0.0, 9.80665])
    acc[:, 0] += 0.3 * np.sin(2 * np.pi * hz * t)
    acc[:, 2] += second_ms2 * np.sin(2 * np.pi * 2 * hz * t + 1.0)
    return made(t, acc)


@pytest.mark.parametrize("hz", [15.5, 21.3])
def test_a_line_held_with_a_second_order_is_a_drum(hz):
    track = read_spin(held(hz, 0.1, rate=100.0)).track
    assert np.nanmedian(track.f_hz) == pytest.approx(hz, rel=0.002)
    assert np.isfinite(track.f_hz).mean() > 0.9


def test_a_line_at_half_the_mains_is_no_drum():
    assert not np.isfinite(read_spin(held(25.0, 0.1, rate=110.0)).track.f_hz).any()


def test_a_faint_hum_before_the_spin_does_not_take_the_spin_away():
    hum, spin = np.full(200, 16.0), np.linspace(1.5, 20.0, 120)
    between = np.linspace(16.0, 1.5, 20)
    f = np.concatenate([hum, between, spin])
    t = 0.25 * np.arange(len(f))
    power = np.concatenate([np.full(220, 1e-3), np.linspace(0.02, 60.0, 120)])
    kept = without_strays(f, t, power)
    assert not np.isfinite(kept[:200]).any()
    assert kept[-100:] == pytest.approx(f[-100:])
    # a faint stretch that is nothing else goes as before
    loud_at_the_end = np.where(np.arange(200) < 190, 1e-3, 60.0)
    assert not np.isfinite(without_strays(hum, t[:200], loud_at_the_end)[:190]).any()
