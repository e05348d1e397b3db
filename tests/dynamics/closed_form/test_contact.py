"""Stops, play, profiles and the cut of friction: one line of physics each, by hand."""

from math import inf
from types import SimpleNamespace

import numpy as np
import pytest

from counterpoise.dynamics.kernels.contact import move_anchors
from counterpoise.dynamics.kernels.drive import profile_row, travel_switch
from counterpoise.dynamics.kernels.drum import past_play
from counterpoise.dynamics.kernels.integration import limit_to_friction
from counterpoise.dynamics.kernels.layout import (
    BUSHINGS,
    CUT_SPEED,
    CUT_TIME,
    DRY_FRICTION,
    FOOT_ANCHOR_X,
    FOOT_ANCHOR_Y,
    FOOT_SLIDES,
    OMEGA,
)
from counterpoise.dynamics.kernels.suspension import stop_force


@pytest.mark.parametrize(
    ("depth", "rate", "force"),
    [
        (-0.001, 5.0, 0.0),  # not there yet, however fast it comes
        (0.0, 5.0, 0.0),
        (0.004, 0.0, 2e6 * 0.004**1.5),
        (0.004, 0.1, 2e6 * 0.004**1.5 + 300.0 * 0.1),
        (0.0001, -5.0, 0.0),  # it leaves: rubber never pulls
    ],
)
def test_a_stop_pushes_by_its_depth_and_never_pulls(depth, rate, force):
    assert stop_force.py_func(depth, rate, 2e6, 300.0) == pytest.approx(force)


@pytest.mark.parametrize(
    ("angle", "left"), [(0.0, 0.0), (0.005, 0.0), (-0.005, 0.0), (0.01, 0.004), (-0.01, -0.004)]
)
def test_what_is_past_the_play_counts(angle, left):
    assert past_play.py_func(angle, 0.006) == pytest.approx(left)


def test_past_play_is_odd_and_never_longer_than_the_angle():
    for angle in np.linspace(-0.02, 0.02, 41):
        left = past_play.py_func(angle, 0.006)
        assert left == -past_play.py_func(-angle, 0.006)
        assert abs(left) <= abs(angle)


@pytest.mark.parametrize(
    ("t", "row"), [(-1.0, 0), (0.0, 0), (0.9, 0), (1.0, 1), (2.5, 2), (3.0, 2), (inf, 2)]
)
@pytest.mark.parametrize("start", [0, 1, 2])
def test_the_stretch_of_a_profile_is_found_from_any_row_before_it(t, row, start):
    table = np.array([[0.0, 0.0], [1.0, 10.0], [2.0, 10.0], [3.0, 0.0]])
    if start <= row:
        assert profile_row.py_func(table, t, start) == row
    else:
        # it only looks ahead: time does not run back
        assert profile_row.py_func(table, t, start) == start


def test_no_lining_holds_more_than_its_friction():
    struts = np.zeros((3, 13))
    struts[:, DRY_FRICTION] = (60.0, 60.0, 5.0)
    friction = np.array([30.0, -200.0, 5.004, 7.0] + 12 * [9.0])
    limit_to_friction.py_func(SimpleNamespace(struts=struts), friction)
    # inside it stays, outside it is cut, rounding is left alone, and no other place is touched
    assert friction.tolist() == [30.0, -60.0, 5.004, 7.0] + 12 * [9.0]


def test_only_a_foot_that_slides_takes_its_anchor_along():
    foot, friction = np.zeros((4, 6)), np.zeros(16)
    foot[:, FOOT_ANCHOR_X], foot[:, FOOT_ANCHOR_Y] = 0.01, -0.02
    foot[2, FOOT_SLIDES] = 1.0
    move_anchors.py_func(friction, SimpleNamespace(foot=foot))
    assert friction[BUSHINGS + 4 : BUSHINGS + 6].tolist() == [0.01, -0.02]
    assert not friction[: BUSHINGS + 4].any()
    assert not friction[BUSHINGS + 6 :].any()


def switched(travel_m, x_m, omega=20.0, cut=-1.0):
    q, drive, memory = np.zeros(18), np.zeros(7), np.array([0.0, 1.0, 0.0, cut, 0.0])
    q[6], drive[OMEGA] = x_m, omega
    run = SimpleNamespace(limits=np.array([travel_m, 10.0, 1.0, 0.0, 0.0]), rest=np.zeros(3))
    travel_switch.py_func(run, SimpleNamespace(q=q, drive=drive, memory=memory), 7.0)
    return memory[CUT_TIME], memory[CUT_SPEED]


def test_the_travel_switch_notes_when_and_at_what_speed_it_cut():
    assert switched(0.012, 0.013) == (7.0, 20.0)
    assert switched(0.012, -0.013) == (7.0, 20.0)


@pytest.mark.parametrize(
    "spared",
    [
        {"travel_m": 0.0, "x_m": 0.5},  # there is no switch
        {"travel_m": 0.012, "x_m": 0.011},  # inside the circle
        {"travel_m": 0.012, "x_m": 0.5, "omega": 9.0},  # too slow to count
    ],
)
def test_the_travel_switch_leaves_alone_what_it_should(spared):
    assert switched(**spared) == (-1.0, 0.0)


def test_the_travel_switch_cuts_once():
    assert switched(0.012, 0.5, cut=3.0) == (3.0, 0.0)
