"""Faults with which nothing may be run: how likely they must be for that, and what lifts it.

A check that runs the machine, and the retest after a repair, wait while such a fault may be there:
while one is likelier than its limit, or all of them together than ``TOGETHER``. A repair that mends
a fault, as it is believed to be, at least as surely as ``MENDS`` may be retested all the same: that
shows whether it held.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Hypotheses, Ints
from counterpoise.reasoning.kernels.arrays import MENDS, TOGETHER

if TYPE_CHECKING:
    from counterpoise.reasoning.model import Repair
    from counterpoise.reasoning.problem import Problem

# From this chance on one such fault alone bars a run (from memory: at 1 in 20 a careful hand looks
# first, at 1 in 5 nobody runs it).
ALONE = 0.05
# Of many that bar it together, those at least so likely are named.
NAMED = 0.01
# A check clears a hazard if some outcome is so much likelier with the fault than without.
CLEARS = 0.2


@dataclass(frozen=True, slots=True)
class Hazard:
    """A fault that bars a run; ``faults``: its ids in the model, which exclude each other.

    ``limit``: the chance above which it does; 0 where it was shown and only a repair lifts it.
    """

    faults: tuple[str, ...]
    limit: float = ALONE


class HazardArrays(NamedTuple):
    """Hazards as the kernels read them; G hazards of N faults, C checks, R repairs."""

    hazard_start: Ints  # (G + 1,) into hazard_fault
    hazard_fault: Ints  # (N,)
    hazard_limit: Floats  # (G,)
    hazard_menders: Ints  # (G,) repairs, as bits
    check_runs: Ints  # (C,)
    repair_runs: Ints  # (R,)
    clearing: Ints  # the checks that run nothing and tell of a hazard


def hazard_arrays(problem: Problem) -> HazardArrays:
    """The hazards of a problem for its kernels; faults that the problem lacks are left out."""
    column = {name: i for i, name in enumerate(problem.hypotheses.fault_ids)}
    groups = [[column[name] for name in each.faults if name in column] for each in problem.hazards]
    faults = [fault for group in groups for fault in group]
    clearing = [
        i
        for i, (check, table) in enumerate(zip(problem.checks, problem.tables, strict=True))
        if not check.runs and _clears(table, problem.hypotheses, faults)
    ]
    return HazardArrays(
        hazard_start=_ints(np.cumsum([0, *(len(group) for group in groups)]).tolist()),
        hazard_fault=_ints(faults),
        hazard_limit=np.array([each.limit for each in problem.hazards], dtype=np.float64),
        hazard_menders=_ints([_menders(each, problem.repairs) for each in problem.hazards]),
        check_runs=_ints([check.runs for check in problem.checks]),
        repair_runs=_ints([repair.runs for repair in problem.repairs]),
        clearing=_ints(clearing),
    )


def _ints(values: Sequence[int]) -> Ints:
    # typed even where there are none, or the kernels would be compiled anew
    return np.array(values, dtype=np.int64)


def _menders(hazard: Hazard, repairs: Sequence[Repair]) -> int:
    """The repairs, as bits, that mend one of the hazard's faults."""
    return sum(
        1 << r
        for r, repair in enumerate(repairs)
        if any(repair.cures.get(fault, 0.0) >= MENDS for fault in hazard.faults)
    )


def mends(keys: Sequence[str], chances: Mapping[str, float], cures: Mapping[str, float]) -> bool:
    """Whether a repair that ``cures`` mends a fault of these keys, as it is believed to be."""
    mass = sum(chances.get(key, 0.0) for key in keys)
    cured = sum(chances.get(key, 0.0) * cures.get(key, 0.0) for key in keys)
    return mass > 0.0 and cured >= MENDS * mass


def _clears(table: Floats, hypotheses: Hypotheses, faults: list[int]) -> bool:
    """Whether a check with this table (O, H) tells one of the faults from a sound machine."""
    rows = [hypotheses.index[(fault,)] for fault in faults if (fault,) in hypotheses.index]
    sound = hypotheses.index.get((), 0)
    return any(float(np.abs(table[:, row] - table[:, sound]).max()) >= CLEARS for row in rows)


def barring(
    hazards: Mapping[str, Hazard], chances: Mapping[str, float], mended: frozenset[str]
) -> tuple[str, ...]:
    """The hazards, by their name, that bar a run now, likeliest first; empty where none does.

    ``chances`` by fault id; ``mended``: fault ids that were repaired since anything was run.
    """
    mass = {
        name: sum(chances.get(fault, 0.0) for fault in each.faults if fault not in mended)
        for name, each in hazards.items()
    }
    alone = [name for name, chance in mass.items() if chance > hazards[name].limit]
    together = sum(mass.values()) > TOGETHER
    # each small, but too much in all: those that make it up are named
    small = [name for name, chance in mass.items() if chance >= NAMED] if together else []
    named = alone or small
    return tuple(sorted(named, key=lambda name: -mass[name]))
