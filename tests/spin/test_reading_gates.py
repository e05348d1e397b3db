"""Where a fast drum is believed, where it is laundry, and where nothing runs at all."""

import json

import numpy as np
import pytest
from tests.spin.shared import made, spin_signal

from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.features.orders import Orders
from counterpoise.spin.reading import EXPLAINED, LOUD_MS2, only_tumbled, read_spin
from counterpoise.spin.recording import GRAVITY_MS2
from counterpoise.spin.summary import line_centres, middle, number, reading_data

FRAMES = 40


def orders(rms_ms2, share, rpm=800.0):
    """Forty frames of a drum whose first order holds this share of the power."""
    amplitude = np.zeros((4, 3, FRAMES), dtype=complex)
    amplitude[1, 0] = rms_ms2 * np.sqrt(2 * share)
    rms = np.zeros((3, FRAMES))
    rms[0] = rms_ms2
    return Orders(np.arange(FRAMES) / 4, np.full(FRAMES, rpm / 60), amplitude, rms, rms)


@pytest.mark.parametrize("rms_ms2", [0.9 * LOUD_MS2, 1.1 * LOUD_MS2])
@pytest.mark.parametrize("share", [0.9 * EXPLAINED, 1.1 * EXPLAINED])
def test_a_fast_drum_is_laundry_only_if_quiet_and_unexplained(rms_ms2, share):
    expected = rms_ms2 < LOUD_MS2 and share < EXPLAINED
    assert only_tumbled(orders(rms_ms2, share)) == expected


def test_a_slow_drum_is_never_doubted():
    assert not only_tumbled(orders(0.1, 0.05, rpm=90.0))


@pytest.mark.parametrize("size", [0.3, 1.0])
def test_a_quiet_spin_with_clear_orders_is_still_followed(size):
    t, acc, _ = spin_signal(100.0, orders={1.0: 0.3 * size, 2.0: 0.05 * size}, noise=0.01)
    assert read_spin(made(t, acc)).course.top_rpm == pytest.approx(1100, rel=0.01)


@pytest.mark.parametrize("step", [0.01, 0.1])
def test_noise_and_the_rounding_of_a_still_phone_run_no_machine(step):
    t = np.arange(0, 40, 0.02)
    acc = np.random.default_rng(2).normal([0, 0, GRAVITY_MS2], 0.02, (len(t), 3))
    reading = read_spin(made(t, np.round(acc / step) * step))
    assert judge(reading).cannot_tell
    assert reading.course.top_rpm == 0


def test_the_data_of_a_reading_are_json_and_come_back_the_same():
    t, acc, _ = spin_signal(60.0)
    reading = read_spin(made(t, acc))
    data = reading_data(reading, judge(reading))
    text = json.dumps(data, allow_nan=False)  # no NaN: other programs do not read it
    assert json.loads(text) == data
    assert [round(p["rpm"], -1) for p in data["plateaus"]] == [400, 800, 1100]
    assert len(data["orders"]) == len(data["plateaus"])
    assert sum(data["groups"].values()) == pytest.approx(1, abs=1e-3)


def test_small_helpers_at_their_edges():
    assert number(float("nan")) is None
    assert number(float("inf")) is None
    assert number(123456.0) == 123500.0
    assert np.isnan(middle(np.array([np.nan])))
    assert middle(np.array([np.nan, 2.0, 4.0])) == 3.0
    assert line_centres(np.empty(0)) == []
    assert line_centres(np.array([49.9, 50.0, 50.1, 75.0])) == [pytest.approx(50.0), 75.0]
