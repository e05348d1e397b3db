"""What an ending that cannot be undone would throw away, and what to look at before it.

A plan that weighs one check at a time may end a machine while many small faults are possible: no
single check pays for itself, yet two or three together would. So before such an ending, as long as
it throws away much on average, the check comes first that tells most of what is at stake for its
cost. Classes decide, never names. Arrays are over H sets of faults; money is minor units.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import mutual_information_bits
from counterpoise.reasoning.kernels.bounds import check_opening
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.ways.irreversible import ENDINGS, worth_if_known

# Minor units. A set of faults that is worth no more than this over its ending is hardly worth
# saving, and an ending that throws away less on average needs no further look (from memory: a
# quarter of an hour at the bench).
LEAST_LOST = 1000.0
# Of what is thrown away on average, the most that the next check may cost (from memory).
MOST_SPENT = 0.15
# Bits; a check that tells less of what is at stake is no look at it (from memory).
LEAST_BITS = 0.05


@dataclass(frozen=True)
class AtStake:
    """What an ending throws away on average, in minor units, and the check to look for it with."""

    lost: float
    check: str


def at_stake(
    problem: Problem, action: Action, never: Collection[str] = frozenset()
) -> AtStake | None:
    """What is to be looked at before ``action``; None where it is no ending, or little is at stake.

    None also where no check tells enough of it for what it costs. ``never``: ids of checks that
    must not be done, as a run of a machine that must not be switched on.
    """
    if action.kind != "ending" or action.id not in ENDINGS:
        return None
    losses = lost_by(problem, action.id)
    lost = float(problem.prior @ losses)
    if lost < LEAST_LOST:
        return None
    # half as it is believed, half by what each set would lose: what is worth nothing need not be
    # told apart, but it must be told from what is worth something
    weighed = 0.5 * (problem.prior + problem.prior * losses / lost)
    k, best, most = problem.arrays(), "", 0.0
    for number, check in enumerate(problem.checks):
        cost = check.cost + check_opening(k, number, problem.opened)
        bits = mutual_information_bits(problem.tables[number], weighed)
        if (
            check.id in never
            or problem.done >> number & 1
            or cost > MOST_SPENT * lost
            or bits < LEAST_BITS
        ):
            continue
        # a check that costs nothing comes before all others
        a_unit = bits / max(cost, 1.0)
        if a_unit > most:
            best, most = check.id, a_unit
    return AtStake(lost, best) if best else None


def lost_by(problem: Problem, ending: str) -> Floats:
    """(H,) minor units that an ending throws away of each set of faults that is worth saving."""
    index = [each.id for each in problem.endings].index(ending)
    lost = worth_if_known(problem) - problem.ending_values[index]
    return np.where(lost > LEAST_LOST, lost, 0.0)
