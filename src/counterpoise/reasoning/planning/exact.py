"""The exact solver: AND/OR search over memoised evidence states, and its plan as a tree.

The bounds of the search are admissible, so what it proves best is best.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.equivalent_actions import find_symmetry
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.kernels.bounds import EPS, check_opening, opening_cost
from counterpoise.reasoning.kernels.compilation import are_compiled, interpreted
from counterpoise.reasoning.kernels.free_checks_bound import MOST_LEAVES
from counterpoise.reasoning.kernels.search import solve
from counterpoise.reasoning.kernels.search_actions import to_failed
from counterpoise.reasoning.kernels.search_workspace import (
    BUDGET,
    FULL,
    NODES,
    SearchWorkspace,
    find_slot,
    new_search_workspace,
)
from counterpoise.reasoning.planning.search_tree import (
    State,
    state_after_check,
    state_after_failure,
)
from counterpoise.reasoning.problem import Problem

T = TypeVar("T")

SLOTS = 1 << 21
SPARE = 1.25  # slots a state: the table is never filled to the brim
FEWEST_SLOTS, MOST_SLOTS = 1 << 12, 1 << 24
# Plain Python is given about the time that loading the compiled kernels takes: milliseconds in all,
# and what a state, a figure in its tables and a combination of outcomes take (measured, one core).
INTERPRETED_MS, STATE_MS, FIGURE_MS, LEAF_MS = 400.0, 0.3, 0.003, 0.05
FEWEST_INTERPRETED = 30  # states in that time below which plain Python would hardly ever finish


def slots_for(budget: int) -> int:
    """Size of the table that holds so many states: a power of two."""
    # rounded up to a power of two; 1.2 GB at most
    wanted = min(max(int(budget * SPARE) + 1, FEWEST_SLOTS), MOST_SLOTS)
    return 1 << (wanted - 1).bit_length()


def interpreted_states(k: Arrays) -> int:
    """States that plain Python looks at in the time that loading the compiled kernels takes.

    0 where they are so few that plain Python is not worth trying.
    """
    figures = k.pass_chance.size * (int(k.outcomes.sum()) + k.repair_cost.size)
    leaves = math.prod(k.outcomes.tolist()) if k.one_fault else 0
    # beyond so many combinations the bound of free checks is not worked out
    leaves = leaves if leaves <= MOST_LEAVES else 0
    states = int(INTERPRETED_MS / (STATE_MS + FIGURE_MS * figures + LEAF_MS * leaves))
    return states if states >= FEWEST_INTERPRETED else 0


@dataclass(frozen=True)
class Branch:
    """A node of a plan: the action to take, and what each result leads to.

    ``probability`` is the chance of coming here, ``value`` the expected value from here on.
    """

    action: Action
    value: float
    probability: float
    results: tuple[tuple[str, Branch], ...] = ()


class Solver:
    """Solves one problem exactly, or as far as ``budget`` states go. Deterministic.

    ``slots`` (a power of two) bounds the memory: about 50 bytes each. A problem of few states is
    solved without the compiler; where there turn out to be more, it is solved anew with it. The
    answers are the same.
    """

    def __init__(self, problem: Problem, *, budget: int = 10_000_000, slots: int = SLOTS) -> None:
        self.problem = problem
        self._k: Arrays = problem.arrays()
        self._symmetry = find_symmetry(problem, self._k)
        self._budget, self._slots = budget, slots
        few = 0 if are_compiled() else interpreted_states(self._k)
        self._interpreting = few > 0
        self._s = self._workspace(few) if 0 < few < budget else self._workspace(budget)

    def _workspace(self, budget: int) -> SearchWorkspace:
        """Workspace for so many states; where they are fewer than may be asked for, for a trial."""
        trial = budget < self._budget
        # the pages that a large table touches take longer to clear than the trial itself
        slots = min(self._slots, slots_for(budget)) if trial else self._slots
        block, twin = self._symmetry.block, self._symmetry.twin
        space = new_search_workspace(self._k, block, twin, slots, budget)
        if trial:
            # no state beyond is even noted, so that the trial ends soon
            space.meter[FULL] = min(budget, space.meter[FULL])
        return space

    def _run(self, work: Callable[[], T]) -> T:
        """Do ``work`` in plain Python while few states are met; else from the start, compiled."""
        if self._interpreting:
            with interpreted():
                result = work()
            nodes, allowed = int(self._s.meter[NODES]), int(self._s.meter[BUDGET])
            # a budget that was never reached cannot have changed anything
            if nodes < allowed or allowed == self._budget:
                return result
            self._interpreting = False
            self._s = self._workspace(self._budget)
        return work()

    def plan(self) -> Plan:
        """Best first action, its worth, and the certificate."""
        return self._run(self._plan)

    def tree(self) -> Branch:
        """The optimal plan as a tree, every state on it solved exactly if the budget allows."""
        return self._run(self._tree)

    def _plan(self) -> Plan:
        p, s = self.problem, self._s
        s.w[0] = p.prior
        # no worth is too small: the root is solved to the end
        low, high = solve(self._k, s, 0, p.done, p.tried, p.opened, -np.inf)
        slot = find_slot(s, 0, p.done, p.tried, p.opened)
        first = action_of(p, int(s.act[slot]) - 1)
        bounds = ActionBounds(first, float(low), float(high))
        return Plan(float(low), float(high), first, (bounds,), int(s.meter[NODES]))

    def _tree(self) -> Branch:
        self._plan()
        p = self.problem
        return self._branch(p.prior, 1.0, (p.done, p.tried, p.opened), 0)

    def _branch(self, w: Floats, probability: float, state: State, depth: int) -> Branch:
        s = self._s
        s.w[depth] = w
        low, _ = solve(self._k, s, depth, *state, -np.inf)
        number = int(s.act[find_slot(s, depth, *state)]) - 1
        number = self._undo_symmetry(number, w, state, depth, low)
        results = tuple(
            (label, self._branch(belief, probability * mass, after, depth + 1))
            for label, mass, belief, after in self._results(number, w, state, depth)
        )
        return Branch(action_of(self.problem, number), float(low), probability, results)

    def _undo_symmetry(self, number: int, w: Floats, state: State, depth: int, low: float) -> int:
        """The action meant where a state was solved under the names of an equivalent one."""
        # of the actions at the same place, the one that earns here what was promised
        candidates = [
            (abs(self._worth(a, w, state, depth) - low), a)
            for a in self._symmetry.interchangeable.get(number, ())
        ]
        return min(candidates)[1] if candidates else number

    def _worth(self, number: int, w: Floats, state: State, depth: int) -> float:
        """Worth of an action here; minus infinity where it has been done already."""
        k, (done, tried, opened) = self._k, state
        checks = len(self.problem.checks)
        value = 0.0
        if number < checks:
            if done >> number & 1:
                return -np.inf
            value -= k.check_cost[number] + check_opening(k, number, opened)
        else:
            r = number - checks
            if tried >> r & 1:
                return -np.inf
            # looking into branches writes over the rows, so each is set before use
            self._s.w[depth] = w
            value -= k.repair_cost[r] + opening_cost(k, k.repair_panels[r], opened)
            value += to_failed(k, self._s, depth, r)[1]
        for _, mass, belief, after in self._results(number, w, state, depth):
            self._s.w[depth + 1] = belief
            value += mass * float(solve(k, self._s, depth + 1, *after, -np.inf)[0])
        return float(value)

    def _results(
        self, number: int, w: Floats, state: State, depth: int
    ) -> Iterator[tuple[str, float, Floats, State]]:
        """Label, probability, belief (H,) and state after each result of an action.

        An ending has no result.
        """
        k, checks = self._k, len(self.problem.checks)
        if number < checks:
            after = state_after_check(k, state, number)
            for o, label in enumerate(self.problem.checks[number].outcomes):
                joint = w * k.table[number, o]
                # a result that cannot come has no branch
                if joint.sum() > EPS:
                    yield label, float(joint.sum()), joint / joint.sum(), after
        elif number < checks + len(self.problem.repairs):
            r = number - checks
            self._s.w[depth] = w
            left, _ = to_failed(k, self._s, depth, r)
            if left > EPS:
                # a copy: looking into the branch writes over the row
                failed = self._s.w[depth + 1].copy()
                yield "still wrong", float(left), failed, state_after_failure(k, state, r)


def solve_exactly(problem: Problem, *, budget: int = 10_000_000, slots: int = SLOTS) -> Plan:
    """The best plan of a small problem; ``exact`` says whether the budget of states sufficed."""
    return Solver(problem, budget=budget, slots=slots).plan()
