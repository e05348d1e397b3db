"""First steps compared like with like: the same machines worked through to the end under each.

A difference of two lower bounds says little where one first step was looked into further than the
other. So the machines of :class:`.monte_carlo.DrawnMachines` are worked on under every first step
that may be best, planned anew after each finding, with the same luck; what a step costs is the mean
difference on the same machines, with its standard error. Within it two steps are about as good.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counterpoise.reasoning.actions import Action, Plan, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import mutual_information_bits
from counterpoise.reasoning.kernels.monte_carlo import EXPECTED, WORTH
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines

COMPARED = 4  # first steps beside the plan's own, by lower end; the best repair and ending come too
EVERY = 3  # machines of which the first is looked at before a step that is far behind is left
FAR_BEHIND = 3.0  # standard errors
# Of the same unit: for no more than this an easier step takes the place of one about as good. The
# errors add up over the steps of a job, and what is given up in each is given up on average.
TRIFLE = 100.0
SURE = 3.0  # standard errors by which a step must be ahead to take the place of the plan's own
# The best of several is ahead by chance more often than one alone: on other machines, with luck of
# their own, it must be ahead again, by so many errors.
AHEAD_AGAIN = 2.0
TELLING = 0.5  # of what a check tells: a check that stands for it tells no less
PAID_BACK = 0.5  # of the cost of a check: what it may be behind and still tell something
PUT_OFF = 300.0  # of the unit of value: for less a repair or an ending that is due is not put off
MOST_LEFT = 4  # steps of which all machines are worked on
# Of the unit of value (minor units at the bench): less apart than this is as good.
LEAST = 1.0


@dataclass(frozen=True, slots=True)
class StepWorth:
    """A first step: what it earns less than the advised one on the same machines.

    ``behind`` and its standard error ``error`` are in the unit of value, ``behind`` below 0 where
    the step earns more; ``worth`` is the mean that it earns, all costs taken off.
    """

    action: Action
    number: int
    worth: float
    behind: float
    error: float

    @property
    def about_as_good(self) -> bool:
        """Whether the difference is within its error."""
        return abs(self.behind) <= max(self.error, LEAST)


@dataclass(frozen=True)
class Comparison:
    """The advised first step, and the others that were compared with it, best first."""

    first: StepWorth
    others: tuple[StepWorth, ...]

    def gain_over(self, kinds: frozenset[str]) -> float | None:
        """What the advised step earns more than the best step of other kinds; None without one."""
        return min(
            (each.behind for each in self.others if each.action.kind not in kinds), default=None
        )


class FirstSteps:
    """The first steps of a plan, compared on drawn machines; deterministic."""

    def __init__(self, plan: Plan, drawn: DrawnMachines) -> None:
        self._plan, self._drawn, self._problem = plan, drawn, drawn.problem
        self._checks, self._repairs = len(self._problem.checks), len(self._problem.repairs)
        self._numbers = {
            action_of(self._problem, number): number
            for number in range(self._checks + self._repairs + len(self._problem.endings))
        }
        self._bounds = {bounds.action: bounds for bounds in plan.action_bounds}
        self._candidates = self._compared()
        self._left = self._not_far_behind()

    def advised(self) -> Comparison:
        """The plan's step, unless another is ahead of it by more than the error.

        Where that opens the machine or ends the job, what is about as good and spares it comes
        first, the quickest.
        """
        while True:
            leader = self._leader()
            easy = [a for a in self._left if a != leader and self._as_easily_done(a, leader)]
            first = min(easy, key=self._minutes, default=leader)
            # a step that was left early and now comes out ahead was left too early
            ahead = [
                a
                for a in self._candidates
                if a not in self._left
                and not self._cannot_be_best(a)
                and self._behind(a, first, EVERY)[0] < 0.0
            ]
            if not ahead:
                return self.seen_from(first)
            self._left += ahead

    def seen_from(self, first: int) -> Comparison:
        """The comparison with a first step that was chosen otherwise."""
        candidates = list(dict.fromkeys([first, *self._candidates]))
        others = sorted(
            (self._step(a, first) for a in candidates if a != first), key=lambda each: each.behind
        )
        return Comparison(self._step(first, first), tuple(others))

    def _compared(self) -> list[int]:
        """Numbers of the steps to compare: the plan's first, its best rivals, best of each kind."""
        actions = [bounds.action for bounds in self._plan.action_bounds]
        ranked = [self._plan.first, *(a for a in actions if a != self._plan.first)]
        chosen = ranked[: COMPARED + 1]
        # where six checks rank first, stopping must still be weighed
        for kind in ("repair", "ending"):
            chosen += [action for action in ranked if action.kind == kind][:1]
        return [self._numbers[action] for action in dict.fromkeys(chosen)]

    def _not_far_behind(self) -> list[int]:
        """Those that may be best: by their bounds, and by some of the machines."""
        first = self._candidates[0]
        # the plan's own is hardly ever left, so all its machines are worked on beside the others
        self._drawn.work_on([(first, 1)], [(a, EVERY) for a in self._candidates[1:]])
        ranked = sorted(self._candidates, key=lambda a: -self._worth(a, EVERY))
        # what is rarer than one machine in so many may not have come up, and bring so much
        unseen = (self._plan.upper - self._plan.lower) * EVERY / self._drawn.machines
        left = []
        for a in ranked:
            behind, error = self._behind(a, ranked[0], EVERY)
            if self._cannot_be_best(a):
                continue
            if behind <= max(FAR_BEHIND * error + unseen, LEAST):
                left.append(a)
        left = list(dict.fromkeys([*left[:MOST_LEFT], first]))
        self._drawn.work_on([(a, 1) for a in left[::2]], [(a, 1) for a in left[1::2]])
        return left

    def _cannot_be_best(self, a: int) -> bool:
        upper = self._limits(a)[1]
        return upper < self._plan.lower

    def _limits(self, a: int) -> tuple[float, float]:
        """What is proven of the worth of a first step."""
        bounds = self._bounds.get(action_of(self._problem, a))
        return (bounds.lower, bounds.upper) if bounds else (-np.inf, np.inf)

    def _worth(self, a: int, every: int) -> float:
        return float(self._drawn.figures(a, every)[:, WORTH].mean())

    def _behind(self, a: int, other: int, every: int = 1) -> tuple[float, float]:
        """What a step earns less than another on every so many machines, and the error of that."""
        figures = self._drawn.figures
        return self._within_proof(a, other, figures(other, every) - figures(a, every))

    def _within_proof(self, a: int, other: int, difference: Floats) -> tuple[float, float]:
        """The same from the differences (n, 10) on any machines."""
        behind, error = paired(difference)
        # the machines are worked on by a plainer policy than the plan's: what is proven holds
        (low, high), (least, most) = self._limits(other), self._limits(a)
        proven = min(max(behind, low - most), high - least)
        return proven, error if proven == behind else 0.0

    def _leader(self) -> int:
        """The plan's own step, or what is ahead of it beyond the error of the difference."""
        due = self._due()
        leader = self._candidates[0] if due is None else due
        # each step forward is one of worth, so it ends; bounded, should rounding say otherwise
        for _ in self._left:
            better = [a for a in self._left if a != leader and self._takes_over(a, leader)]
            if not better:
                break
            leader = min(better, key=lambda a: self._behind(a, leader)[0])
        return leader

    def _takes_over(self, a: int, leader: int) -> bool:
        """Whether a step is so far ahead of the leader that it takes its place."""
        # a repair or an ending that is due is not put off for what a question may bring
        least = self._trifle(a) if leader < self._checks else PUT_OFF
        if not self._ahead_of(a, leader, SURE, least):
            return False
        others = self._drawn.others
        others.work_on([(leader, 1)], [(a, 1)])
        behind, error = self._within_proof(a, leader, others.figures(leader) - others.figures(a))
        return -behind > max(AHEAD_AGAIN * error, LEAST)

    def _due(self) -> int | None:
        """The repair at hand that the plan earns as much with as with the check it begins with."""
        actions = [action_of(self._problem, a) for a in self._candidates]
        repairs = [
            a
            for a, action in zip(self._candidates, actions, strict=True)
            if action.kind == "repair" and not self._opens(a)
        ]
        least = self._plan.lower - LEAST
        return next((a for a in repairs if self._limits(a)[0] >= least), None)

    def _as_easily_done(self, a: int, leader: int) -> bool:
        """Whether a step is about as good as the leader, with none ahead of it, and spares more.

        It spares opening the machine, or an ending. It must be another way to the same end: an idle
        question is always about as good, as it is behind by its own little cost only; whoever takes
        it for that never comes to an end.
        """
        ends = leader >= self._checks + self._repairs
        if not (ends or self._opens(leader)) or self._opens(a) or not self._same_end(a, leader):
            return False
        behind, error = self._behind(a, leader)
        # what tells as much as the step it stands for is no idle one; before an ending it may be
        most = self._trifle(a) if ends else TRIFLE
        return behind <= min(max(error, LEAST), most) and not any(
            self._ahead_of(other, a, SURE, LEAST) for other in self._left if other != a
        )

    def _trifle(self, a: int) -> float:
        """What a step may be apart from another and be taken for as good, whatever the error.

        The machines are worked on by a plainer policy than the plan's: it does not tell two checks
        apart that differ by less than half of what they cost.
        """
        if a >= self._checks:
            return TRIFLE
        return min(TRIFLE, PAID_BACK * self._problem.checks[a].cost)

    def _same_end(self, a: int, leader: int) -> bool:
        """Whether a step may stand for the leader: of its kind, or before an ending.

        A check must tell at least half as much as the check it stands for.
        """
        if leader >= self._checks + self._repairs:
            return True
        if (a < self._checks) != (leader < self._checks):
            return False
        return leader >= self._checks or self._tells(a) >= TELLING * self._tells(leader)

    def _tells(self, check: int) -> float:
        return mutual_information_bits(self._problem.tables[check], self._problem.prior)

    def _ahead_of(self, a: int, other: int, errors: float, least: float) -> bool:
        behind, error = self._behind(a, other)
        return -behind > max(errors * error, least)

    def _step(self, a: int, first: int) -> StepWorth:
        # a step left early has only some of its machines worked on: those are compared
        every = 1 if a == first or a in self._left else EVERY
        behind, error = self._behind(a, first, every)
        return StepWorth(action_of(self._problem, a), a, self._worth(a, every), behind, error)

    def _opens(self, a: int) -> bool:
        """Whether a panel or position must be opened for a step; an ending opens none."""
        if a >= self._checks + self._repairs:
            return False
        k, r = self._drawn.arrays, a - self._checks
        needed = int(k.check_panels[a] if r < 0 else k.repair_panels[r])
        return needed & ~self._problem.opened != 0

    def _minutes(self, a: int) -> float:
        """Minutes of a step, without opening; an ending takes none."""
        measures = self._drawn.measures
        each = np.concatenate([measures.check_minutes, measures.repair_minutes])
        return float(each[a]) if a < len(each) else 0.0


def paired(difference: Floats) -> tuple[float, float]:
    """Mean difference in worth between two first steps, and its standard error.

    ``difference`` (n, 10) is that of the figures on machines drawn one from each piece.
    Neighbouring pieces are nearly of one kind, so the error is taken from what differs between
    neighbours; from one machine nothing is known of it. What came out may be replaced by what was
    to be expected: on the mean they are equal, and they are mixed so that the error is least.
    """
    worth, n = difference[:, WORTH], len(difference)
    if n < 2:
        return float(worth.mean()), float("inf")
    luck = worth - difference[:, EXPECTED]
    steps, lucky = np.diff(worth), np.diff(luck)
    square = float(lucky @ lucky)
    share = min(1.0, max(0.0, float(lucky @ steps) / square)) if square > 0.0 else 0.0
    steps = steps - share * lucky
    error = np.sqrt(float(steps @ steps) / (2.0 * (n - 1)) / n)
    return float((worth - share * luck).mean()), float(error)
