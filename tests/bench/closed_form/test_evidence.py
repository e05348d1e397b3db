"""Bench numbers answer the catalog's checks: same unit, right outcome, and the guide lists them
all.
"""

from pathlib import Path

import pytest

from counterpoise.bench.bounce import bounce
from counterpoise.bench.dampers import DamperForces, damper_set
from counterpoise.bench.evidence import ANSWERS, check_readings
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.play import PlayReadings, play
from counterpoise.bench.runout import Rim, runout
from counterpoise.bench.safety import SafetyReadings, safety
from counterpoise.bench.slopes import from_degrees
from counterpoise.bench.suspension import SpringPair, springs
from counterpoise.bench.windings import PhaseReadings, windings
from counterpoise.catalog.loader import load_family


def _level(slope_deg, gap_mm):
    foot = "rear left" if gap_mm else "none"
    return level(
        LevelReadings(from_degrees(slope_deg), left=from_degrees(0.0), floating=foot, gap_mm=gap_mm)
    )


# A sound machine and a bad one for every check.
CASES = {
    "drum_by_hand": (lambda: play(PlayReadings((0.1,))), lambda: play(PlayReadings((3.0,)))),
    "push_tub_bounces": (lambda: bounce(40, 1), lambda: bounce(40, 6)),
    "measure_level": (lambda: _level(0.05, 0.0), lambda: _level(1.5, 0.0)),
    "measure_foot_gap": (lambda: _level(0.0, 0.0), lambda: _level(0.0, 2.0)),
    "measure_rim_runout": (
        lambda: runout(Rim((8.0, 8.1, 8.0, 7.9))),
        lambda: runout(Rim((12.0, 8.0, 4.0, 8.0))),
    ),
    "measure_damper_push": (
        lambda: damper_set([DamperForces("a", (80.0,)), DamperForces("b", (75.0,))]),
        lambda: damper_set([DamperForces("a", (80.0,)), DamperForces("b", (5.0,))]),
    ),
    "measure_spring_length": (
        lambda: springs(SpringPair((200.0,), (200.5,))),
        lambda: springs(SpringPair((215.0,), (200.0,))),
    ),
    "measure_stator_balance": (
        lambda: windings(PhaseReadings((5.0, 5.02, 5.01))),
        lambda: windings(PhaseReadings((5.0, 5.0, 6.5))),
    ),
    "measure_insulation": (
        lambda: safety(SafetyReadings(insulation_mohm=50.0)),
        lambda: safety(SafetyReadings(insulation_mohm=0.2)),
    ),
}


@pytest.mark.parametrize("check", sorted(ANSWERS))
def test_sound_and_bad_fall_into_the_first_and_last_outcome(check):
    asked = load_family("front_loader").checks[check]
    sound, bad = (check_readings(make())[check] for make in CASES[check])
    for found, place in ((sound, 0), (bad, -1)):
        assert found.unit == asked.reading.unit
        assert asked.reading.low <= found.value <= asked.reading.high
        weights = found.outcome_weights(asked.reading.edges, falling=asked.reading.falling)
        assert len(weights) == len(asked.outcomes)
        assert max(weights) == weights[place]


def test_a_drum_that_stood_still_tells_nothing_of_how_true_it_runs():
    assert check_readings(runout(Rim((12.0, 8.0, 4.0, 8.0)), way="walked")) == {}


def test_corners_that_were_not_pressed_tell_nothing_of_a_gap():
    found = level(LevelReadings(from_degrees(0.0), left=from_degrees(0.0)))
    assert set(check_readings(found)) == {"measure_level"}
    assert "may still float" in found.sentence


def test_the_guide_lists_every_answer():
    guide = (Path(__file__).parents[3] / "docs" / "bench.md").read_text(encoding="utf-8")
    assert all(f"`{check}`" in guide for check in ANSWERS)
