"""Mending begun now: with the work that is advised, or by what is known, without a further check.

While a check is advised, "repair it" as it stands now means to mend by chance over cost, one repair
after another, and to stop where stopping pays: what looking further would add is not in it. Once a
repair is advised the two are one, and the way is worked through as the plan goes on.

Arrays are over H sets of faults; money is minor units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.planning.first_steps import paired
from counterpoise.reasoning.planning.forecast import MACHINES
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines, Measures
from counterpoise.reasoning.problem import Problem

# Of repairs without any that pays, those that cure this share as often as the surest are likely.
_LIKELY = 0.5


@dataclass(frozen=True)
class Worked:
    """Drawn machines worked through from one first step: what it is worth, and what it takes.

    ``worth`` is the mean in minor units, all costs taken off, and ``error`` its standard error;
    ``figures`` (H, F) are the columns of the kernel by set of faults, times its chance.
    """

    worth: float
    error: float
    figures: Floats

    @classmethod
    def through(cls, drawn: DrawnMachines, first: int) -> Worked:
        """The machines of ``drawn`` worked through from the planner's action ``first``."""
        # against nothing at all, which is worth nothing: the same estimate as between two steps
        worth, error = paired(drawn.figures(first))
        return cls(worth, error, drawn.by_set(first))


def unlooked(problem: Problem) -> Problem:
    """The problem for one who mends without a further check.

    What bars a run is left out of it: whoever decides to mend clears that first, for little.
    """
    return replace(problem, checks=(), tables=(), done=0, hazards=())


def mending_now(problem: Problem, measures: Measures) -> Worked | None:
    """Machines mended one repair after another, without a check; None where nothing can be mended.

    Where no repair pays, the likely one comes first all the same: the way is to repair.
    """
    if not problem.repairs:
        return None
    bare = unlooked(problem)
    drawn = DrawnMachines(bare, measures._replace(check_minutes=np.zeros(0)), MACHINES)
    return Worked.through(drawn, first_repair(bare))


def first_repair(bare: Problem) -> int:
    """Number of the repair that comes first where nobody looks: by chance over cost."""
    k = bare.arrays()
    _, repair, _ = ratio_policy(k, bare.prior, bare.tried, bare.opened, new_workspace(k))
    return int(repair) if repair >= 0 else _likely_repair(bare)


def _likely_repair(problem: Problem) -> int:
    """Number of the repair that pays best among those likely to cure."""
    cured = [
        float(moves.chance[moves.target == 0] @ problem.prior[moves.source[moves.target == 0]])
        for moves in problem.transitions
    ]
    # set 0 is the empty one: the chance that nothing is wrong after the repair
    sound = np.array(cured) + problem.prior[0]
    worth = sound * problem.working - problem.arrays().repair_cost
    return int(np.argmax(np.where(sound >= _LIKELY * sound.max(), worth, -np.inf)))
