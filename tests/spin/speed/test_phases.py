"""Plateaus, phases and attempts of tracks drawn by hand."""

from itertools import pairwise

import numpy as np
import pytest

from counterpoise.spin.speed.phases import PHASES, find_course, find_plateaus, runs, slope_rpm_per_s
from counterpoise.spin.speed.speed_tracking import SpeedTrack

HOP_S = 0.25


def track(points):
    """A track through (s, rpm); 0 rpm is no drum seen."""
    at, rpm = np.array(points, dtype=float).T
    t = np.arange(0, at[-1], HOP_S)
    f = np.interp(t, at, rpm) / 60
    return SpeedTrack(t, np.where(f > 0.7, f, np.nan), np.empty(0))


def course(points):
    drawn = track(points)
    return find_course(drawn, np.where(np.isfinite(drawn.f_hz), 1.0, 1e-6))


SPIN = [
    (0, 0),
    (5, 0),
    (6, 50),
    (16, 50),
    (18, 95),
    (26, 95),
    (40, 800),
    (52, 800),
    (62, 0),
    (66, 0),
]


def test_each_phase_lies_where_it_was_drawn():
    got = course(SPIN)
    for phase, middle in (
        ("tumble", 11),
        ("distribution", 22),
        ("run_up", 33),
        ("hold", 46),
        ("coast", 56),
    ):
        inside = [s.phase for s in got.stretches if s.start_s <= middle < s.end_s]
        assert inside == [phase]
    assert got.top_rpm == pytest.approx(800)
    assert (got.attempts, got.given_up) == (1, 0)
    assert got.phase.max() < len(PHASES)


def test_stretches_cover_the_recording_without_gaps():
    stretches = course(SPIN).stretches
    for one, two in pairwise(stretches):
        assert one.end_s == two.start_s
        assert one.phase != two.phase


def test_a_machine_that_gives_up_and_tries_again():
    tries = [(0, 0), (4, 50), (10, 50), (12, 95), (20, 95), (22, 50), (30, 50), (32, 95), (40, 95),
             (42, 50), (50, 50), (64, 700), (76, 700), (84, 0), (88, 0)]  # fmt: skip
    got = course(tries)
    assert (got.attempts, got.given_up) == (3, 2)


@pytest.mark.parametrize(("seconds", "expected"), [(1.5, 0), (4.0, 1)])
def test_a_plateau_lasts_two_seconds(seconds, expected):
    up = [(0, 100), (20, 700), (20 + seconds, 700), (40, 1300)]
    drawn = track(up)
    assert len(find_plateaus(drawn, np.ones(len(drawn.t_s)))) == expected


def test_the_echo_of_a_drum_is_no_plateau():
    drawn = track([(0, 300), (10, 700), (20, 700), (22, 700)])
    power = np.ones(len(drawn.t_s))
    assert len(find_plateaus(drawn, power)) == 1
    power[drawn.t_s > 9] = 1e-6
    assert find_plateaus(drawn, power) == ()


def test_a_tub_that_rings_after_a_stop_is_no_plateau():
    after = track([(0, 900), (8, 900), (10, 250), (20, 250)])
    before = track([(0, 100), (8, 250), (20, 250), (30, 900)])
    one = np.ones(200)
    assert [round(p.rpm) for p in find_plateaus(after, one[: len(after.t_s)])] == [900]
    assert [round(p.rpm) for p in find_plateaus(before, one[: len(before.t_s)])] == [250]


def test_the_slope_of_a_straight_climb_is_the_same_everywhere():
    drawn = track([(0, 100), (20, 900)])
    slope = slope_rpm_per_s(drawn)
    assert slope[4:-4] == pytest.approx(40.0)


def test_runs_are_half_open():
    flags = np.array([True, True, False, True, False, False, True])
    assert runs(flags) == [(0, 2), (3, 4), (6, 7)]
    assert runs(np.zeros(3, dtype=bool)) == []
