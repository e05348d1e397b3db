"""A closer certificate for models of catalog size, for when there are seconds to spare.

Upper end: the mean worth of the sets of faults under perfect information, exactly. Lower end: a
policy of guessed steps that is followed far down. Deterministic for a given tolerance.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.belief import mean_after
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.bounds import opening_cost
from counterpoise.reasoning.kernels.one_step_policy import (
    Guide,
    new_one_step_workspace,
    one_step_policy,
)
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.problem import Problem

OPTIMISM = 0.4  # share of what knowing would add that the guess hopes for
# Tolerance at first and at last, as a share of what knowing would add.
FIRST, LAST = 1 / 128, 1e-7
# The next tolerance is between these shares of the last, as the time left allows.
NEXT = (1 / 8, 1 / 2)
PRUDENT = 0.7  # share of the time left that a round is meant to take


@dataclass(frozen=True)
class PolicyValue:
    """What the policy earns, its first action as the planner numbers it, and the states it met."""

    value: float
    act: int
    states: int


class RefinedBounds:
    """The bracket of one problem. ``upper`` is ready at once; :meth:`follow` gives lower ends."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self._k = problem, problem.arrays()
        self._workspace = new_one_step_workspace(self._k)
        known = np.zeros(problem.prior.size)
        where = (problem.hypotheses.one_less, problem.tried, problem.opened)
        # sets that the belief has ruled out count as well: the guess wants their figures, for a
        # repair may lead to them
        perfect_information_values(self._k, where[0], np.ones_like(known), *where[1:], known)
        self.upper = float(known @ problem.prior)
        self._guide = Guide(known, self._commitments(known), problem.opened, OPTIMISM)
        self.stopped = self._ratio_policy()

    def _commitments(self, known: Floats) -> Floats:
        """(R + E, H): what each repair, and knowing the rest after it, earns; and each ending."""
        k = self._k
        after = k.pass_chance * k.pass_value + (1.0 - k.pass_chance) * known
        # endings last: the guess tells them from repairs by their place
        rows = [k.ending_value]
        for r, transition in enumerate(self.problem.transitions):
            price = k.repair_cost[r] + opening_cost(k, k.repair_panels[r], self.problem.opened)
            rows.insert(-1, (mean_after(after, transition) - price)[None])
        return np.ascontiguousarray(np.vstack(rows))

    def _ratio_policy(self) -> PolicyValue:
        """Repairing by chance over cost, or stopping."""
        p, k = self.problem, self._k
        value, first, ending = ratio_policy(k, p.prior, p.tried, p.opened, self._workspace.work)
        checks, repairs = k.check_cost.size, k.repair_cost.size
        act = checks + (int(first) if first >= 0 else repairs + max(int(ending), 0))
        return PolicyValue(float(value), act, 1)

    def follow(self, tolerance: float) -> PolicyValue:
        """The policy when branches that matter less than ``tolerance`` (in the unit of value) end.

        What is left of the belief there is repaired by chance over cost.
        """
        p = self.problem
        state = (p.done, p.tried, p.opened)
        value, act, states = one_step_policy(
            self._k, p.prior, state, self._guide, tolerance, self._workspace
        )
        if act < 0:
            return replace(self.stopped, states=int(states))
        return PolicyValue(float(value), int(act), int(states))


def capped(problem: Problem, plan: Plan) -> Plan:
    """The plan with no upper end above the mean under perfect information; some milliseconds."""
    known = np.zeros(problem.prior.size)
    one_less, k = problem.hypotheses.one_less, problem.arrays()
    most = float(
        perfect_information_values(k, one_less, problem.prior, problem.tried, problem.opened, known)
    )
    # never below the lower end, which is earned for certain
    upper = max(plan.lower, min(plan.upper, most))
    return replace(plan, upper=upper, action_bounds=_under(upper, plan.action_bounds))


def _under(upper: float, bounds: tuple[ActionBounds, ...]) -> tuple[ActionBounds, ...]:
    return tuple(replace(each, upper=max(each.lower, min(each.upper, upper))) for each in bounds)


def certify(problem: Problem, effort: Effort, plan: Plan | None = None) -> Plan:
    """A plan with the closest bracket that the seconds of ``effort`` allow, or one within its gap.

    ``plan`` is what is known already (its growths took care of themselves); the answer is never
    wider.
    """
    end = time.monotonic() + effort.seconds
    bounds = RefinedBounds(problem)
    best, upper, states = bounds.stopped, bounds.upper, 0
    if plan is not None:
        upper, states = min(upper, plan.upper), plan.states
    known = -np.inf if plan is None else plan.lower
    share, stake = FIRST, bounds.upper - best.value
    # each round follows the policy further down, from the start: the guess is cheap
    while upper - max(best.value, known) > effort.gap and share > LAST:
        start = time.monotonic()
        followed = bounds.follow(share * stake)
        best = max(best, followed, key=lambda policy: policy.value)
        states += followed.states
        took, left = time.monotonic() - start, end - time.monotonic()
        # the next round takes about as much longer as its tolerance is smaller, or more
        if took > NEXT[1] * left:
            break
        share *= min(NEXT[1], max(NEXT[0], took / (PRUDENT * left)))
    return _plan(problem, plan, best, upper, states)


def _plan(
    problem: Problem, plan: Plan | None, best: PolicyValue, upper: float, states: int
) -> Plan:
    """The better of two first steps in front, and no action's bound above the upper end."""
    if plan is None or best.value > plan.lower:
        ended = best.act >= len(problem.checks) + len(problem.repairs)
        exhausted = ended and not problem.endings
        first = Action("exhausted", "") if exhausted else action_of(problem, best.act)
        lower = best.value
    else:
        first, lower = plan.first, plan.lower
    # two ends reckoned in different orders may cross by rounding
    upper = max(lower, upper)
    others = () if plan is None else _under(upper, plan.action_bounds)
    front = ActionBounds(first, lower, upper)
    return Plan(lower, upper, first, (front, *(a for a in others if a.action != first)), states)
