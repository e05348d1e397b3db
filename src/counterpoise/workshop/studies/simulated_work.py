"""The option to repair, played once: planned anew after each step, what happens drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.analysis import Analysis, measures_of
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, build_problem
from counterpoise.workshop.diagnosis.ways.mending import first_repair, unlooked
from counterpoise.workshop.studies.stand import STUDY_MAX_SETS

# A plan ends long before; this stops one that would go round in circles.
MOST_STEPS = 40
# After each step of the work, for speed; the job itself is analysed as at the bench.
_EFFORT_BETWEEN_STEPS = Effort(growths=2)


class _Named(Protocol):
    @property
    def id(self) -> str: ...


def index_of_id(items: Sequence[_Named], item_id: str) -> int:
    """Index of the item with this id. Raises StopIteration where there is none."""
    return next(i for i, item in enumerate(items) if item.id == item_id)


def first_of(analysis: Analysis) -> Action:
    """The repair that the option to repair begins with."""
    if analysis.plan.first.kind == "repair":
        return analysis.plan.first
    bare = unlooked(analysis.planned.problem)
    return Action("repair", bare.repairs[first_repair(bare)].id)


@dataclass
class WorkResult:
    """What the repair took, and how it ended: handed over (perhaps with a fault left), or given up.

    ``minutes`` are person-minutes; ``parts``, ``charged`` and ``left`` (what the ending brings) are
    minor units.
    """

    minutes: float = 0.0
    parts: float = 0.0
    charged: float = 0.0
    handed: bool = False
    comes_back: bool = False
    left: float = 0.0


class SimulatedWork:
    """The option to repair, played once: the plan is made anew after each step."""

    def __init__(self, analysis: Analysis, truth: int, rng: np.random.Generator) -> None:
        # over every set of faults: what is really wrong may be one that the plan left out
        whole: Problem = build_problem(analysis.situation, analysis.prices.settings)
        # the option is to mend now: while a check is advised, that is to mend without it
        self._problem = unlooked(whole) if analysis.plan.first.kind == "check" else whole
        self._measures = measures_of(analysis.prices, self._problem)
        self._first = first_of(analysis)
        self._truth, self._rng, self._worked = truth, rng, WorkResult()

    def done(self) -> WorkResult:
        """Work until the machine is handed over or given up; minutes and minor units it took."""
        action = self._first
        for _ in range(MOST_STEPS):
            if action.kind == "ending":
                index = index_of_id(self._problem.endings, action.id)
                self._worked.left = float(self._problem.ending_values[index, self._truth])
                break
            if action.kind == "check":
                self._check(action.id)
            elif self._repair(action.id):
                break
            action = self._next()
        return self._worked

    def _next(self) -> Action:
        # planned anew: what a step showed may have changed everything
        smaller, _ = self._problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
        return Lookahead(smaller, prune_unlikely=True).plan(_EFFORT_BETWEEN_STEPS).first

    def _open(self, access: str | None) -> float:
        """Open what is in the way; returns what that costs, in minor units."""
        needed = panels_needed(self._problem.access, access)
        missing = [
            i for i in range(len(self._problem.access)) if needed & ~self._problem.opened & 1 << i
        ]
        self._worked.minutes += sum(float(self._measures.panel_minutes[i]) for i in missing)
        self._problem = replace(self._problem, opened=self._problem.opened | needed)
        return sum(self._problem.access[i].open + self._problem.access[i].close for i in missing)

    def _check(self, name: str) -> None:
        index = index_of_id(self._problem.checks, name)
        if self._problem.checks[index].shuts:
            self._problem = replace(self._problem, opened=0)
        self._open(self._problem.checks[index].access)
        self._worked.minutes += float(self._measures.check_minutes[index])
        table = self._problem.tables[index]
        # normalised once more, since drawing wants chances that sum to 1 to the last bit
        chances = table[:, self._truth]
        outcome = int(self._rng.choice(chances.size, p=chances / chances.sum()))
        belief = self._problem.prior * table[outcome]
        self._problem = replace(
            self._problem, prior=belief / belief.sum(), done=self._problem.done | 1 << index
        )

    def _repair(self, name: str) -> bool:
        """Mend and prove; returns whether the machine is handed over."""
        index = index_of_id(self._problem.repairs, name)
        repair, retest, worked = self._problem.repairs[index], self._problem.retest, self._worked
        # the customer pays for panels that a repair opens, not for those that a check did
        worked.charged += self._open(repair.access) + repair.cost + retest.cost
        worked.minutes += float(self._measures.repair_minutes[index])
        worked.parts += float(self._measures.repair_parts[index])
        self._truth = self._mended(index)
        # the spin may miss what is left; then the machine is handed over and comes back
        if self._truth == 0 or self._rng.random() < retest.misses:
            worked.handed, worked.comes_back = True, self._truth != 0
            return True
        belief = repaired(self._problem.prior, self._problem.transitions[index]) * (
            1.0 - retest.misses
        )
        # the planner takes a sound machine to pass always, so this one has a fault left
        belief[0] = 0.0
        # closing was paid with the opening
        self._problem = replace(
            self._problem,
            prior=belief / belief.sum(),
            tried=self._problem.tried | 1 << index,
            opened=0 if retest.shuts else self._problem.opened,
        )
        return False

    def _mended(self, index: int) -> int:
        """Index of the set of faults that a repair leaves, drawn; as it was where it cures none."""
        transition = self._problem.transitions[index]
        here = transition.source == self._truth
        # what is left above the last edge is the chance that the repair cured nothing
        edges = np.cumsum(transition.chance[here])
        at = int(np.searchsorted(edges, self._rng.random(), side="right"))
        return int(transition.target[here][at]) if at < edges.size else self._truth
