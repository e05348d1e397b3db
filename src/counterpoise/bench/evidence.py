"""Which measurement answers which check of the catalog, so that it counts there with its doubt.

The ids are those of checks that declare a numeric reading; a family that uses the same id is served
alike.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.bench.bounce import Bounce
from counterpoise.bench.dampers import DamperSet
from counterpoise.bench.level import Level
from counterpoise.bench.level_check import LevelCheck
from counterpoise.bench.play import Play
from counterpoise.bench.runout import Runout
from counterpoise.bench.safety import Safety
from counterpoise.bench.suspension import Springs
from counterpoise.bench.windings import Windings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.bench.quantity import Quantity, Result

# Check id: the results that answer it, and the measure that is its reading. A check counts in the
# unit of that measure; ``tests/bench/closed_form/test_evidence.py`` keeps both sides together.
ANSWERS: Mapping[str, tuple[tuple[type[Result], ...], str]] = {
    "drum_by_hand": ((Play,), "radial"),
    "push_tub_bounces": ((Bounce,), "swings"),
    "measure_level": ((Level, LevelCheck), "lean_rise"),
    "measure_foot_gap": ((Level, LevelCheck), "gap"),
    "measure_rim_runout": ((Runout,), "indicated"),
    "measure_damper_push": ((DamperSet,), "weakest"),
    "measure_spring_length": ((Springs,), "unlike"),
    "measure_stator_balance": ((Windings,), "odd_one"),
    "measure_insulation": ((Safety,), "insulation"),
}


def readable(result: Result) -> Mapping[str, Quantity]:
    """The numbers of a result that a check may take as its reading, by name; empty for none."""
    if isinstance(result, Runout) and result.way != "turned":
        return {}
    return result.measures


def check_readings(result: Result) -> dict[str, Quantity]:
    """Readings by check id that this result gives, in the unit of the check; empty for none.

    A drum that was walked round with the drum still says nothing of how true it runs, so it answers
    no check.
    """
    measures = readable(result)
    return {
        check: measures[name]
        for check, (kinds, name) in ANSWERS.items()
        if isinstance(result, kinds) and name in measures
    }
