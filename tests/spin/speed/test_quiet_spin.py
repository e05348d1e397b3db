"""A quiet, sound spin as one was measured: the drum's line under louder lines, begun in mid-run."""

import numpy as np
import pytest
from tests.spin.shared import made

from counterpoise.spin.causes.groups import PRIOR
from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import GRAVITY_MS2

HOLD_HZ = 19.85
# From the last part of the climb (+0.15 Hz/s) over the hold of 28 s down a coast of -0.40 Hz/s.
POINTS = ((0.0, 18.35), (10.0, HOLD_HZ), (38.0, HOLD_HZ), (76.0, 4.65))
# First order on the hold in m/s2: up, along the panel, across it; second and third beside it.
ORDERS = {1: (0.095, 0.052, 0.29), 2: (0.01, 0.005, 0.04), 3: (0.014, 0.006, 0.043)}
RATE_HZ = 92.0


def quiet_spin(seed):
    """Stamps on a 5 ms grid and readings of the measured spin, with lines at 16.8, 42 and 50 Hz."""
    rng = np.random.default_rng(seed)
    t = np.arange(0, POINTS[-1][0], 1 / RATE_HZ) + rng.uniform(-0.0005, 0.0005)
    fine = np.arange(0, POINTS[-1][0] + 0.1, 0.002)
    speed = np.interp(fine, *np.array(POINTS).T)
    angle = np.interp(t, fine, 2 * np.pi * np.cumsum(speed) * 0.002)
    f = np.interp(t, fine, speed)
    # A panel mode just above 20 Hz: times 12 across the panel between 950 and 1,190 rpm.
    mode = 1 / np.maximum(np.abs(1 - (f / 20.6) ** 2), 0.05)
    grown = {0: (f / HOLD_HZ) ** 2, 1: (f / HOLD_HZ) ** 2, 2: (f / HOLD_HZ) ** 2 * mode}
    hold = 1 / np.maximum(np.abs(1 - (HOLD_HZ / 20.6) ** 2), 0.05)
    acc = rng.normal([GRAVITY_MS2, 0, 0], (0.02, 0.015, 0.03), (len(t), 3))
    for order, sizes in ORDERS.items():
        for axis, size in enumerate(sizes):
            law = grown[axis] / (hold if axis == 2 else 1.0)
            acc[:, axis] += size * law * np.cos(order * angle + axis)
    # The hum stands louder than the drum over much of the climb; the pump and its image.
    for hz, size in ((16.8, 0.1), (50.0, 0.05), (42.0, 0.03)):
        acc[:, 2] += size * np.cos(2 * np.pi * hz * t)
    stamps = np.round(t / 0.005) * 0.005
    return stamps, acc


@pytest.mark.parametrize("seed", range(4))
def test_the_measured_spin_is_read_and_accuses_nobody(seed):
    reading = read_spin(made(*quiet_spin(seed)))
    assert reading.course.top_rpm == pytest.approx(1191, rel=0.005)
    here = (reading.track.t_s > 11) & (reading.track.t_s < 37)
    assert reading.track.f_hz[here] == pytest.approx(HOLD_HZ, rel=0.005)
    said = judge(reading)
    accused = {g for g, p in said.groups.items() if g != "nothing_found" and p > 2 * PRIOR[g]}
    assert not accused


def test_no_speed_is_ever_below_zero():
    rng = np.random.default_rng(3)
    t = np.arange(0, 60, 0.02)
    for scale in (0.02, 0.5, 5.0):
        acc = rng.normal(0, scale, (len(t), 3)) + np.array([0, 0, GRAVITY_MS2])
        f = read_spin(made(t, acc)).track.f_hz
        assert np.all(f[np.isfinite(f)] > 0)
