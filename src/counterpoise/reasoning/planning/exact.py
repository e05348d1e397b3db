"""The exact solver: AND/OR search over memoised evidence states with admissible bounds, and its plan as a tree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.equivalent_actions import symmetry_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels import bounds, search
from counterpoise.reasoning.kernels import search_workspace as states
from counterpoise.reasoning.kernels.bounds import EPS
from counterpoise.reasoning.problem import Arrays, Problem

SLOTS = 1 << 21
SPARE = 1.25  # slots a state: the table is never filled to the brim
FEWEST_SLOTS, MOST_SLOTS = 1 << 12, 1 << 24


def slots_for(budget: int) -> int:
    """Size of the table that holds so many states."""
    wanted = min(max(int(budget * SPARE) + 1, FEWEST_SLOTS), MOST_SLOTS)
    return 1 << (wanted - 1).bit_length()


@dataclass(frozen=True)
class Branch:
    """A node of a plan: the action to take with this much probability left, and what each result leads to."""

    action: Action
    value: float
    probability: float
    results: tuple[tuple[str, Branch], ...] = ()


class Solver:
    """Solves one problem exactly, or as far as ``budget`` states go. Deterministic.

    ``slots`` (a power of two) bounds the memory: about 50 bytes each.
    """

    def __init__(self, problem: Problem, *, budget: int = 10_000_000, slots: int = SLOTS) -> None:
        self.problem = problem
        self._k: Arrays = problem.arrays()
        self._symmetry = symmetry_of(problem, self._k)
        self._s = states.new_space(
            self._k, self._symmetry.block, self._symmetry.twin, slots, budget
        )

    def plan(self) -> Plan:
        """Best first action, its worth, and the certificate."""
        p, s = self.problem, self._s
        s.w[0] = p.prior
        low, high = search.solve(self._k, s, 0, p.done, p.tried, p.opened, -np.inf)
        slot = states.find(s, 0, p.done, p.tried, p.opened)
        first = action_of(p, int(s.act[slot]) - 1)
        return Plan(
            float(low),
            float(high),
            first,
            (ActionBounds(first, float(low), float(high)),),
            int(s.meter[0]),
        )

    def tree(self) -> Branch:
        """The optimal plan as a tree; solve first."""
        self.plan()
        return self._branch(
            self.problem.prior, 1.0, (self.problem.done, self.problem.tried, self.problem.opened), 0
        )

    def _branch(
        self, w: Floats, probability: float, state: tuple[int, int, int], depth: int
    ) -> Branch:
        s = self._s
        s.w[depth] = w
        low, _ = search.solve(self._k, s, depth, *state, -np.inf)
        number = self._own_name(int(s.act[states.find(s, depth, *state)]) - 1, w, state, depth, low)
        results = tuple(
            (label, self._branch(belief, probability * mass, after, depth + 1))
            for label, mass, belief, after in self._results(number, w, state, depth)
        )
        return Branch(action_of(self.problem, number), float(low), probability, results)

    def _own_name(
        self, number: int, w: Floats, state: tuple[int, int, int], depth: int, low: float
    ) -> int:
        """The action meant: a state may have been solved under the names of another that is like it."""
        found = [
            (abs(self._worth(a, w, state, depth) - low), a)
            for a in self._symmetry.alike.get(number, ())
        ]
        return min(found)[1] if found else number

    def _worth(self, number: int, w: Floats, state: tuple[int, int, int], depth: int) -> float:
        """Worth of an action here; minus infinity where it has been done already."""
        k, (done, tried, opened) = self._k, state
        checks = len(self.problem.checks)
        value = 0.0
        if number < checks:
            if done >> number & 1:
                return -np.inf
            value -= k.check_cost[number] + bounds.panels_to_open(k, k.check_panels[number], opened)
        else:
            r = number - checks
            if tried >> r & 1:
                return -np.inf
            self._s.w[depth] = w
            value -= k.repair_cost[r] + bounds.panels_to_open(k, k.repair_panels[r], opened)
            value += search.to_failed(k, self._s, depth, r)[1]
        for _, mass, belief, after in self._results(number, w, state, depth):
            self._s.w[depth + 1] = belief
            value += mass * float(search.solve(k, self._s, depth + 1, *after, -np.inf)[0])
        return float(value)

    def _results(
        self, number: int, w: Floats, state: tuple[int, int, int], depth: int
    ) -> Iterator[tuple[str, float, Floats, tuple[int, int, int]]]:
        k, (done, tried, opened) = self._k, state
        checks = len(self.problem.checks)
        if number < checks:
            after = (done | 1 << number, tried, opened | int(k.check_panels[number]))
            for o, label in enumerate(self.problem.checks[number].outcomes):
                joint = w * k.table[number, o]
                if joint.sum() > EPS:
                    yield label, float(joint.sum()), joint / joint.sum(), after
        elif number < checks + len(self.problem.repairs):
            r = number - checks
            self._s.w[depth] = w
            left, _ = search.to_failed(k, self._s, depth, r)
            if left > EPS:
                failed = self._s.w[depth + 1].copy()
                yield (
                    "still wrong",
                    float(left),
                    failed,
                    (done, tried | 1 << r, opened | int(k.repair_panels[r])),
                )


def solve_exactly(problem: Problem, *, budget: int = 10_000_000, slots: int = SLOTS) -> Plan:
    """The best plan of a small problem; ``exact`` says whether the budget sufficed."""
    return Solver(problem, budget=budget, slots=slots).plan()
