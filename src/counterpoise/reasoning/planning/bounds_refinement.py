"""A closer certificate for models of catalog size, for when there are seconds to spare.

Upper end: the mean worth of the sets of faults to one who knows which it is, exactly. Lower end: a policy of guessed
steps that is followed far down. Deterministic for a given tolerance.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.belief import mean_after
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.bounds import panels_to_open
from counterpoise.reasoning.kernels.one_step_policy import thorough_policy, thorough_space
from counterpoise.reasoning.kernels.perfect_information import known_values
from counterpoise.reasoning.kernels.ratio_policy import repair_by_ratio
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.problem import Problem

LEAN = 0.4  # share of what knowing would add that the guess hopes for
FIRST, LAST = 1 / 128, 1e-7  # tolerance at first and at last, as a share of what knowing would add
NEXT = (
    1 / 8,
    1 / 2,
)  # the next tolerance is between these shares of the last, as the time left allows
PRUDENT = 0.7  # share of the time left that a round is meant to take


@dataclass(frozen=True)
class PolicyValue:
    """What the policy earns, its first action as the planner numbers it, and the states it came to."""

    value: float
    act: int
    states: int


class RefinedBounds:
    """The bracket of one problem. ``upper`` is ready at once; :meth:`follow` gives lower ends."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self._k = problem, problem.arrays()
        self._space = thorough_space(self._k)
        self._known = np.zeros(problem.prior.size)
        where = (problem.hypotheses.one_less, problem.tried, problem.opened)
        # sets that the belief has ruled out count as well: the guess wants their figures, a repair may lead to them
        known_values(self._k, where[0], np.ones_like(self._known), *where[1:], self._known)
        self.upper = float(self._known @ problem.prior)
        self._guide = (self._known, self._commitments())
        self.stopped = self._plainly()

    def _commitments(self) -> Floats:
        """(R + E, H): what each repair, and knowing the rest after it, earns; and each ending."""
        k = self._k
        at = k.passes * k.pass_value + (1.0 - k.passes) * self._known
        rows = [k.ending_value]
        for r, moves in enumerate(self.problem.transitions):
            price = k.repair_cost[r] + panels_to_open(k, k.repair_panels[r], self.problem.opened)
            rows.insert(-1, (mean_after(at, moves) - price)[None])
        return np.ascontiguousarray(np.vstack(rows))

    def _plainly(self) -> PolicyValue:
        """Plain repairing, or stopping."""
        p, k = self.problem, self._k
        value, first, ending = repair_by_ratio(k, p.prior, p.tried, p.opened, self._space[-1])
        checks, repairs = k.check_cost.size, k.repair_cost.size
        return PolicyValue(
            float(value), checks + (int(first) if first >= 0 else repairs + max(int(ending), 0)), 1
        )

    def follow(self, tolerance: float) -> PolicyValue:
        """The policy when branches that matter less than ``tolerance`` (in the unit of value) repair plainly."""
        p = self.problem
        state = (p.done, p.tried, p.opened)
        value, act, states = thorough_policy(
            self._k, p.prior, state, self._guide, LEAN, tolerance, self._space
        )
        return (
            PolicyValue(float(value), int(act), int(states))
            if act >= 0
            else replace(self.stopped, states=int(states))
        )


def capped(problem: Problem, plan: Plan) -> Plan:
    """The plan with no upper end above what one who knows what is wrong would earn; some milliseconds."""
    known = np.zeros(problem.prior.size)
    less = problem.hypotheses.one_less
    most = float(
        known_values(problem.arrays(), less, problem.prior, problem.tried, problem.opened, known)
    )
    upper = max(plan.lower, min(plan.upper, most))
    return replace(plan, upper=upper, action_bounds=_under(upper, plan.action_bounds))


def _under(upper: float, found: tuple[ActionBounds, ...]) -> tuple[ActionBounds, ...]:
    return tuple(replace(one, upper=max(one.lower, min(one.upper, upper))) for one in found)


def certify(problem: Problem, effort: Effort, plan: Plan | None = None) -> Plan:
    """A plan with the closest bracket that the seconds of ``effort`` allow, or one as close as its ``gap``.

    ``plan`` is what is known already (its growths took care of themselves); the answer is never wider.
    """
    end = time.monotonic() + effort.seconds
    thorough = RefinedBounds(problem)
    best, upper, states = thorough.stopped, thorough.upper, 0
    if plan is not None:
        upper, states = min(upper, plan.upper), plan.states
    known = -np.inf if plan is None else plan.lower
    share, stake = FIRST, thorough.upper - best.value
    while upper - max(best.value, known) > effort.gap and share > LAST:
        start = time.monotonic()
        found = thorough.follow(share * stake)
        best, states = max(best, found, key=lambda one: one.value), states + found.states
        took, left = time.monotonic() - start, end - time.monotonic()
        if took > NEXT[1] * left:
            break
        share *= min(NEXT[1], max(NEXT[0], took / (PRUDENT * left)))
    return _plan(problem, plan, best, upper, states)


def _plan(
    problem: Problem, plan: Plan | None, best: PolicyValue, upper: float, states: int
) -> Plan:
    """The better of two first steps in front, and no appraisal above the upper end."""
    if plan is None or best.value > plan.lower:
        ended = best.act >= len(problem.checks) + len(problem.repairs)
        first = (
            Action("exhausted", "")
            if ended and not problem.endings
            else action_of(problem, best.act)
        )
        lower = best.value
    else:
        first, lower = plan.first, plan.lower
    upper = max(lower, upper)
    others = () if plan is None else _under(upper, plan.action_bounds)
    front = ActionBounds(first, lower, upper)
    return Plan(lower, upper, first, (front, *(a for a in others if a.action != first)), states)
