"""Lifting, tipping, level and feet: what is harder has a lower limit, what is mirrored is alike."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from counterpoise.bench.feet import FEET, Feet, FootTurn, Tolerance, advise, rock_deg, spell_turns
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.lifting import (
    TEAM_SHARE,
    Lift,
    TippedMachine,
    lifting,
    tipping,
    weight_limit_kg,
)
from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m, reversal

# lifting and tipping


@pytest.mark.parametrize(
    ("field", "steps"),
    [
        ("reach_cm", (25.0, 30.0, 45.0, 63.0)),
        ("twist_deg", (0.0, 30.0, 90.0, 135.0)),
        ("travel_cm", (25.0, 60.0, 150.0)),
        ("per_minute", (0.2, 1.0, 3.0, 6.0)),
        ("hours", (1.0, 2.0, 8.0)),
    ],
)
def test_a_harder_lift_has_a_lower_limit(field, steps):
    limits = [weight_limit_kg(replace(Lift(), **{field: step})) for step in steps]
    assert all(later < earlier for earlier, later in pairwise(limits))


def test_the_best_height_is_between_knee_and_hip_and_further_is_out_of_reach():
    heights = {h: weight_limit_kg(Lift(height_cm=h)) for h in (0.0, 40.0, 75.0, 120.0, 175.0)}
    assert max(heights, key=heights.get) == 75.0
    assert weight_limit_kg(Lift(reach_cm=64.0)) == 0.0
    assert weight_limit_kg(Lift(height_cm=176.0)) == 0.0


def test_a_larger_team_bears_more_but_each_of_it_less():
    teams = dict(lifting(72.5).team_index)
    assert all(later < earlier for earlier, later in pairwise(teams.values()) if later != earlier)
    assert all(share <= 1.0 for share in TEAM_SHARE.values())
    assert lifting(72.5).trolley
    assert lifting(10.0).people == 1


def test_a_doubtful_mass_never_asks_for_fewer_people():
    limit = lifting(20.0).limit_kg
    sure, unsure = lifting(limit - 0.1), lifting(limit - 0.1, sd_kg=3.0)
    assert sure.people == 1
    assert unsure.people > 1


def test_tipping_starts_easier_with_higher_hands_and_falls_sooner_the_higher_its_centre():
    low, high = (tipping(TippedMachine(hands_m=h)) for h in (0.5, 1.0))
    assert low.push.value == pytest.approx(2 * high.push.value)
    flat, tall = (tipping(TippedMachine(centre_height_m=h)) for h in (0.2, 0.6))
    assert tall.balance_deg < flat.balance_deg


# level and feet


@pytest.mark.parametrize("x", [-3.0, 0.4, 7.0])
def test_three_tools_read_the_same_slope(x):
    rise = 1000 * math.tan(math.radians(x))
    assert from_mm_per_m(rise).value == pytest.approx(x)
    assert from_degrees(x).value == x
    if abs(rise / 30.0) <= 4.0:
        assert from_bubble(rise / 30.0, 30.0).value == pytest.approx(x)
    turned = reversal(x + 0.3, -x + 0.3)
    assert turned.slope.value == pytest.approx(x)
    assert turned.own_error.value == pytest.approx(0.3)


@pytest.mark.parametrize(("x", "y"), [(1.3, 0.2), (-0.9, 1.1), (0.0, -2.0), (0.7, 0.0)])
def test_a_mirrored_machine_is_advised_in_the_mirror(x, y):
    feet = Feet(extension_mm=(8.0, 8.0, 8.0, 8.0))
    plain = level(LevelReadings(from_degrees(x), left=from_degrees(y)), feet)
    mirrored = level(LevelReadings(from_degrees(-x), left=from_degrees(y)), feet)
    assert len(mirrored.advice.turns) == len(plain.advice.turns)
    assert sum(abs(t.turns) for t in mirrored.advice.turns) == pytest.approx(
        sum(abs(t.turns) for t in plain.advice.turns)
    )
    assert mirrored.lean.value == pytest.approx(plain.lean.value)


@pytest.mark.parametrize("seed", range(6))
def test_no_foot_is_asked_beyond_its_stop_or_its_limit(seed):
    rng = np.random.default_rng(seed)
    out = tuple(float(mm) for mm in rng.uniform(0.0, 20.0, 4))
    feet = Feet(extension_mm=out)
    advice = advise(rng.uniform(-8.0, 8.0, 4), feet, Tolerance(), leave=False)
    after = dict(zip(FEET, out, strict=True))
    for turn in advice.turns:
        after[turn.foot] += turn.change_mm
    assert all(-1e-9 <= mm <= feet.limit_mm + 1e-9 for mm in after.values())


def test_a_machine_that_is_left_alone_has_no_turns():
    advice = advise(np.array([1.0, -2.0, 3.0, 0.0]), Feet(), Tolerance(), leave=True)
    assert advice.turns == ()
    assert advice.reachable is True


@pytest.mark.parametrize(
    ("turns", "words"),
    [(0.25, "1/4 turn"), (0.5, "1/2 turn"), (1.0, "1 turn"), (1.25, "1 1/4 turns"),
     (2.125, "2 1/8 turns"), (0.0, "0 turn")],
)  # fmt: skip
def test_turns_are_spelt(turns, words):
    assert spell_turns(turns) == words


def test_a_turn_says_which_way_and_what_it_does():
    up, down = FootTurn("rear left", 0.5, 0.6), FootTurn("rear left", -0.5, -0.6)
    assert up.text == "rear left foot: 1/2 turn out, clockwise seen from above: raises it (0.6 mm)"
    assert "anticlockwise seen from above: lowers it (0.6 mm)" in down.text


def test_a_wider_machine_rocks_less():
    angles = [rock_deg(1.0, Feet(width, 0.5)) for width in (0.4, 0.5, 0.6)]
    assert all(later < earlier for earlier, later in pairwise(angles))
