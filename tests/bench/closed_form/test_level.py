"""Level and feet: algebra of four feet, hand-worked cases, the integer optimum against brute
force.
"""

import itertools
import math

import numpy as np
import pytest

from counterpoise.bench.feet import (
    FEET,
    Feet,
    Tolerance,
    advise,
    rock_deg,
    slopes_of,
    spell_turns,
    supports_mm,
    twist_of,
)
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.level_check import LevelForecast, confirm
from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m, reversal
from counterpoise.errors import ReadingError


def test_a_millimetre_at_half_a_metre_rocks_by_0162_degrees():
    assert rock_deg(1.0, Feet()) == pytest.approx(0.162, abs=5e-4)


@pytest.mark.parametrize(("thread_mm", "degrees"), [(1.25, 0.143), (1.5, 0.172)])
def test_one_turn_over_half_a_metre(thread_mm, degrees):
    raised = np.array([0.0, thread_mm, 0.0, thread_mm])
    assert math.degrees(slopes_of(raised, 0.5, 0.5)[0]) == pytest.approx(degrees, abs=5e-4)


def test_four_heights_are_a_plane_and_a_twist():
    plane, twist = np.array([1.0, 3.0, 2.0, 4.0]), 0.5 * np.array([1.0, -1.0, -1.0, 1.0])
    assert slopes_of(plane + twist, 0.4, 0.6) == pytest.approx((2 / 400, 1 / 600))
    assert twist_of(plane + twist) == pytest.approx(0.5)


def test_a_short_foot_alone_is_turned_out_by_its_gap():
    stands = level(
        LevelReadings(
            front=from_degrees(0.0), left=from_degrees(0.0), floating="rear left", gap_mm=2.5
        )
    )
    assert [(turn.foot, turn.turns) for turn in stands.advice.turns] == [
        ("rear left", 2.0)
    ]  # 2 turns of 1.25 mm
    assert stands.rock.value == pytest.approx(0.162 * 2.5, abs=2e-3)
    assert "rear left foot: 2 turns out, clockwise seen from above" in stands.sentence


def test_lean_is_the_slope_of_the_steepest_line():
    stands = level(LevelReadings(front=from_degrees(0.3, 0.0), left=from_degrees(0.4, 0.0)))
    assert stands.lean.value == pytest.approx(0.5)
    assert stands.lean_rise.value == pytest.approx(1000 * math.radians(0.5))


def test_a_good_machine_is_left_alone():
    stands = level(LevelReadings(rear=from_degrees(0.1), right=from_degrees(-0.2)))
    assert stands.advice.turns == ()
    assert stands.advice.reachable
    assert stands.chance_good > 0.99
    assert "Leave the feet" in stands.sentence


def test_unknown_extension_never_asks_a_foot_in():
    stands = level(LevelReadings(front=from_degrees(1.5), left=from_degrees(1.0)))
    assert stands.advice.turns
    assert all(turn.turns > 0 for turn in stands.advice.turns)


def test_too_steep_a_floor_asks_for_a_plate():
    stands = level(
        LevelReadings(front=from_degrees(6.0), left=from_degrees(0.0)), Feet(limit_mm=10)
    )
    assert not stands.advice.reachable
    assert any("plate" in remark for remark in stands.remarks)


def _brute_force_least_steps(supports, feet, tolerance, reach):
    """Try every combination of whole steps within ``reach``."""
    step = feet.step_turns * feet.pitch_mm
    moves = np.array(list(itertools.product(range(-reach, reach + 1), repeat=4)))
    after = supports + moves * step
    x = ((after[:, 1] + after[:, 3]) - (after[:, 0] + after[:, 2])) / (2000 * feet.width_m)
    y = ((after[:, 2] + after[:, 3]) - (after[:, 0] + after[:, 1])) / (2000 * feet.depth_m)
    gap = abs(after[:, 0] - after[:, 1] - after[:, 2] + after[:, 3])
    most = math.tan(math.radians(tolerance.slope_deg)) / 2
    gap_most = max(tolerance.gap_mm / 2, step / 2)
    out = np.asarray(feet.extension_mm) + moves * step
    good = (
        (abs(x) <= most - gap_most / (2000 * feet.width_m) + 1e-9)
        & (abs(y) <= most - gap_most / (2000 * feet.depth_m) + 1e-9)
        & (gap <= gap_most + 1e-9)
        & (out >= -1e-9).all(1)
        & (out <= feet.limit_mm + 1e-9).all(1)
    )
    return abs(moves[good]).sum(1).min()


@pytest.mark.parametrize("seed", range(8))
def test_the_turns_are_the_fewest_there_are(seed):
    rng = np.random.default_rng(seed)
    feet = Feet(width_m=0.5, depth_m=0.45, extension_mm=tuple(rng.uniform(2, 12, 4)))
    tolerance = Tolerance(0.5, 0.6)
    supports = rng.uniform(-1.5, 1.5, 4)
    found = advise(supports, feet, tolerance, leave=False)
    ours = sum(abs(turn.turns) for turn in found.turns) / feet.step_turns
    assert ours == _brute_force_least_steps(supports, feet, tolerance, 9)


def test_supports_undo_slopes_and_gap():
    supports = supports_mm(0.6, -0.4, np.array([0.0, 0.0, 1.0, 0.0]), Feet())
    assert 4 * abs(twist_of(supports)) == pytest.approx(1.0)


def test_the_tools_agree():
    assert from_mm_per_m(10.0).value == pytest.approx(0.57294, abs=1e-5)  # atan(0.01)
    assert from_bubble(2.0, vial_mm_per_m=5.0).value == from_mm_per_m(10.0).value


def test_reversal_by_hand():
    found = reversal(1.2, -0.4)
    assert found.slope.value == pytest.approx(0.8)
    assert found.own_error.value == pytest.approx(0.4)


def test_readings_that_disagree_raise_the_doubt_and_say_so():
    stands = level(
        LevelReadings(front=from_degrees(1.0), rear=from_degrees(-1.0), left=from_degrees(0.0))
    )
    assert stands.slope_x.sd == pytest.approx(1.0)
    assert "the top is bent" in stands.remarks[0]


@pytest.mark.parametrize(
    "readings",
    [
        LevelReadings(left=from_degrees(0.0)),
        LevelReadings(front=from_degrees(0.0)),
        LevelReadings(front=from_degrees(0.0), left=from_degrees(0.0), gap_mm=1.0),
        LevelReadings(front=from_degrees(0.0), left=from_degrees(0.0), floating="middle"),
    ],
)
def test_what_is_missing_is_named(readings):
    with pytest.raises(ReadingError):
        level(readings)


def test_a_foot_past_its_limit_is_refused():
    with pytest.raises(ReadingError, match="front right foot stands out 30 mm"):
        Feet(extension_mm=(1, 30, 1, 1), limit_mm=20)


def test_the_check_afterwards_tells_right_wrong_and_odd():
    before = level(
        LevelReadings(front=from_degrees(1.2), left=from_degrees(0.0)),
        Feet(extension_mm=(8, 8, 8, 8)),
    )
    foreseen = before.advice.after_x_deg
    done = confirm(
        LevelForecast.of(before),
        LevelReadings(front=from_degrees(foreseen), left=from_degrees(0.0)),
    )
    assert done.as_foreseen
    assert "Press each corner" in done.sentence
    wrong = confirm(
        LevelForecast.of(before),
        LevelReadings(front=from_degrees(2.4 - foreseen), left=from_degrees(0.0)),
    )
    assert "wrong way round" in wrong.sentence
    odd = confirm(
        LevelForecast.of(before), LevelReadings(front=from_degrees(1.2), left=from_degrees(1.5))
    )
    assert "another foot" in odd.sentence


def test_turns_are_spelt_as_spoken():
    assert [spell_turns(turns) for turns in (0.25, 0.5, 1.0, 1.25, 2.375)] == [
        "1/4 turn",
        "1/2 turn",
        "1 turn",
        "1 1/4 turns",
        "2 3/8 turns",
    ]
    assert len(FEET) == 4
