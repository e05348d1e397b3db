"""Kinds of machine that turn faster than any washer: followed at their own pace, or refused in plain words."""

import dataclasses

import numpy as np
import pytest
from tests.spin.shared import labelled, labels, made, recording_file, spin_signal

from counterpoise.spin.account import said
from counterpoise.spin.causes.verdict import judge
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.kind import WASHER_PACE, Kind, expected_rpm, pace_of
from counterpoise.spin.proof import CANNOT_TELL, NOT_YET, PASS, compare
from counterpoise.spin.reading import read_spin

NO_CAUSE = "There is no model in motion of it."
DRYER = Kind(top_rpm=2800.0, no_cause=NO_CAUSE)
TUMBLER = Kind(top_rpm=None, spins=False, no_cause=NO_CAUSE)


def dryer_points(climb_s=20.0, coast_s=25.0, top=2800.0):
    """A spin dryer as it goes: still, straight up, a long hold, and down."""
    return [
        (0, 0),
        (5, 0),
        (5 + climb_s, top),
        (50 + climb_s, top),
        (50 + climb_s + coast_s, 0),
        (56 + climb_s + coast_s, 0),
    ]


def dryer_signal(rate_hz, points, size=1.5, seed=1):
    """Its line with the shake growing as the square of the speed, a house hum beside it, and noise."""
    t, acc, f = spin_signal(rate_hz, points, {1.0: size, 0.5: 0.1, 2.0: 0.2}, 0.05, seed)
    still = acc.mean(axis=0)
    grown = (acc - still) * (0.2 + 0.8 * (f / (f.max() + 1e-9)) ** 2)[:, None]
    hum = 0.15 * np.sin(2 * np.pi * 50.0 * t)[:, None] * np.array([1.0, 0.3, 0.5])
    return t, grown + still + hum, f


def read(rate_hz, size=1.5, seed=1, points=None, kind=DRYER):
    t, acc, f = dryer_signal(rate_hz, points or dryer_points(), size, seed)
    return read_spin(made(t, acc), kind=kind), t, f


@pytest.mark.parametrize("rate_hz", [125.0, 200.0, 400.0])
@pytest.mark.parametrize(("climb_s", "coast_s"), [(12.0, 25.0), (25.0, 40.0), (20.0, 8.0)])
def test_a_spin_dryer_is_followed_to_the_top_and_down_within_one_percent(rate_hz, climb_s, coast_s):
    reading, t, f = read(rate_hz, points=dryer_points(climb_s, coast_s))
    assert reading.course.top_rpm == pytest.approx(2800, rel=0.01)
    true = np.interp(reading.track.t_s, t, f)
    fast = true > 10
    seen = fast & np.isfinite(reading.track.f_hz)
    assert seen.sum() > 0.95 * fast.sum()
    off = np.abs(reading.track.f_hz[seen] / true[seen] - 1)
    assert np.quantile(off, 0.95) < 0.01


def test_three_thousand_is_followed_where_the_kind_says_so():
    kind = dataclasses.replace(DRYER, top_rpm=3000.0)
    reading, _, _ = read(400.0, points=dryer_points(top=3000.0), kind=kind)
    assert reading.course.top_rpm == pytest.approx(3000, rel=0.01)


@pytest.mark.parametrize("rate_hz", [50.0, 60.0, 100.0])
def test_a_phone_that_reads_too_seldom_is_told_so_and_no_speed_is_claimed(rate_hz):
    reading, _, _ = read(rate_hz)
    assert reading.too_slow
    assert reading.course.top_rpm == 0
    assert np.isnan(reading.track.f_hz).all()
    told = said(reading, judge(reading))
    assert "2800 rpm cannot be seen" in told
    assert "record with a logging program" in told
    assert compare(reading, reading).result == CANNOT_TELL


def test_no_cause_is_named_and_before_is_held_against_after():
    loud, quiet = read(200.0, 2.0)[0], read(200.0, 0.8)[0]
    verdict = judge(loud)
    assert verdict.groups == {}
    assert said(loud, verdict).endswith(NO_CAUSE)
    assert said(loud, verdict).startswith("It reached 2800 rpm")
    assert compare(loud, quiet).result == PASS
    assert "no recording of this kind of machine can tell" in compare(loud, quiet).sentence
    assert compare(quiet, loud).result == NOT_YET
    # about as loud as before proves nothing where no fault can be named
    assert compare(loud, read(200.0, 2.0, seed=2)[0]).result == CANNOT_TELL


def test_a_machine_that_does_not_spin_is_held_by_its_shake():
    points = [(0, 0), (5, 50), (60, 50), (65, 0)]
    rng = np.random.default_rng(1)

    def ran(size):
        t, acc, _ = spin_signal(100.0, points, {1.0: 0.01}, 0.02)
        moving = ((t > 5) & (t < 60))[:, None]
        return read_spin(made(t, acc + moving * rng.normal(0, size, acc.shape)), kind=TUMBLER)

    loud, quiet = ran(1.0), ran(0.4)
    assert said(loud, judge(loud)).startswith("It shook by ")
    assert compare(loud, quiet).result == PASS
    assert compare(quiet, loud).result == NOT_YET


@pytest.mark.parametrize("kind", [Kind(), Kind(top_rpm=1600.0), Kind(top_rpm=1900.0)])
def test_washers_keep_their_pace_to_the_last_bit(kind):
    assert pace_of(kind, None) is WASHER_PACE
    assert pace_of(kind, 1400.0) is WASHER_PACE
    assert expected_rpm(kind, None) is None
    name = next(iter(labels()))
    before = labelled(name)
    again = read_spin(read_recording(recording_file(name)), kind=kind)
    assert np.array_equal(before.track.f_hz, again.track.f_hz, equal_nan=True)
    assert np.array_equal(before.spectrum.power, again.spectrum.power)
    assert judge(before) == judge(again)
