"""Where a fast drum is believed, where it is laundry, and where nothing runs at all."""

import json

import numpy as np
import pytest
from tests.spin.shared import made, spin_signal

from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.reading import LEAST_CONFIDENCE, read_spin, without_doubtful
from counterpoise.spin.recording import GRAVITY_MS2
from counterpoise.spin.speed.lost_stretches import lost_notes, lost_stretches
from counterpoise.spin.speed.speed_tracking import SpeedTrack
from counterpoise.spin.summary import line_centres, middle, number, reading_data

FRAMES = 40


def track(confidence, rpm=800.0, beside=1.0):
    """Forty frames at one speed of this confidence, then a gap, then forty sure ones."""
    f = np.full(90, rpm / 60)
    f[FRAMES : FRAMES + 10] = np.nan
    sure = np.where(np.arange(90) < FRAMES, confidence, beside)
    return SpeedTrack(np.arange(90) / 4, f, np.empty(0), np.where(np.isnan(f), 0.0, sure))


@pytest.mark.parametrize("confidence", [0.05, LEAST_CONFIDENCE - 0.02, LEAST_CONFIDENCE + 0.02, 1])
def test_a_doubtful_stretch_is_left_out_and_its_neighbour_kept(confidence):
    kept = without_doubtful(track(confidence))
    assert np.isfinite(kept.f_hz[:FRAMES]).all() == (confidence > LEAST_CONFIDENCE)
    assert np.isfinite(kept.f_hz[FRAMES + 10 :]).all()


def test_a_slow_drum_is_never_doubted():
    assert np.isfinite(without_doubtful(track(0.05, rpm=90.0)).f_hz[:FRAMES]).all()


def test_what_was_left_out_is_said_with_its_seconds():
    seen = track(0.05)
    lost = lost_stretches(without_doubtful(seen), seen.f_hz)
    assert lost == [(0.0, pytest.approx(12.25))]
    assert lost_notes(lost)[0].text == "Cannot follow the drum between 0 and 12 s."
    assert lost_stretches(track(1.0), seen.f_hz) == []  # a gap of 2.5 s is bridged by eye


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
