"""A plan within a time: exact search where that is soon done, else the look-ahead, or both."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace

from counterpoise.reasoning.actions import Plan
from counterpoise.reasoning.planning.exact import Solver, slots_for
from counterpoise.reasoning.problem import Problem

STATES_A_SECOND = 12_000  # of the exact search on a slow core; half the time is meant for it
LIGHT = 64  # outcomes of all checks together up to which a state costs no more than that


def plan_within(
    problem: Problem, seconds: float, *, clock: Callable[[], float] = time.monotonic
) -> Plan:
    """The best plan within about ``seconds``; ``exact`` if it is proven best.

    What the exact search sees in its half depends on the states it looks at, not on the clock; the
    look-ahead then grows until the time is up, so a faster machine may answer better but never with
    a bracket that is not valid.
    """
    end = clock() + seconds
    together = math.prod(len(check.outcomes) for check in problem.checks)
    # a state of many outcomes costs more, in proportion to their combinations
    budget = max(1, int(STATES_A_SECOND * seconds / 2 * min(1.0, LIGHT / together)))
    searched = Solver(problem, budget=budget, slots=slots_for(budget)).plan()
    if searched.exact:
        return searched
    # late: the look-ahead's kernels need the compiler, a small search does not
    from counterpoise.reasoning.planning.lookahead import Effort, Lookahead

    look, grown = Lookahead(problem), -1
    # one leaf at a time, so that the clock is asked often
    while clock() < end and look.grown > grown:
        grown = look.grown
        look.plan(Effort(growths=grown + 1))
    return better_of(searched, look.result())


def better_of(plan: Plan, other: Plan) -> Plan:
    """The better ends of two brackets, with the first step of the better lower end.

    Both plans are of one problem, in the same unit of value.
    """
    best = plan if plan.lower >= other.lower else other
    # both ends hold for the same optimum, so the closer of each does
    return replace(best, upper=max(best.lower, min(plan.upper, other.upper)))
