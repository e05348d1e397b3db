"""The reference: many machines worked through to the end under two first steps.

Their luck is their own, not that of the page. The bench's policy plans anew after each finding with
the bench's planner and effort, in plain Python; the plain one is the compiled simulation, with more
machines.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.reasoning.kernels.bounds import after_repair, best_ending, opening_cost
from counterpoise.reasoning.planning.first_steps import paired
from counterpoise.reasoning.planning.lookahead import Lookahead
from counterpoise.reasoning.planning.monte_carlo import MOST_STEPS, DrawnMachines
from counterpoise.workshop.diagnosis.analysis import EFFORT
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, MAX_SETS

if TYPE_CHECKING:
    from counterpoise.reasoning.hypotheses import Floats
    from counterpoise.reasoning.kernels.workspace import Workspace
    from counterpoise.reasoning.planning.monte_carlo import Measures
    from counterpoise.reasoning.problem import Problem

LUCK = 2  # seed of the reference: the page's own is 0
BATCH = 16  # machines worked on by the bench's policy before it is asked whether that is enough
ENOUGH = 4.0  # standard errors


class Replanned:
    """Machines of the reference, by policy: ``plain`` or ``bench``."""

    def __init__(
        self, problem: Problem, measures: Measures, machines: int, work: Workspace, policy: str
    ) -> None:
        self._drawn = DrawnMachines(problem, measures, machines, work, luck=LUCK)
        self._policy = policy
        self._bench = BenchPolicy(problem, self._drawn)

    def behind(self, step: int, other: int) -> tuple[float, float]:
        """What a first step earns less than another, and its standard error, in minor units."""
        if self._policy == "plain":
            return paired(self._drawn.figures(other) - self._drawn.figures(step))
        # machines in an order of no meaning, so that a part of them stands for all
        order = np.random.default_rng(LUCK).permutation(self._drawn.machines)
        differences: list[float] = []
        for at in range(0, order.size, BATCH):
            differences += [
                self._bench.worth(int(m), other) - self._bench.worth(int(m), step)
                for m in order[at : at + BATCH]
            ]
            mean, error = _mean(differences)
            if abs(mean) > ENOUGH * error > 0.0:
                break
        return _mean(differences)


def _mean(differences: list[float]) -> tuple[float, float]:
    values = np.array(differences)
    return float(values.mean()), float(values.std(ddof=1) / np.sqrt(values.size))


class BenchPolicy:
    """A machine worked through to the end, each step planned with the bench's effort."""

    def __init__(self, problem: Problem, drawn: DrawnMachines) -> None:
        self._problem, self._drawn, self._k = problem, drawn, drawn.arrays
        self._acts: dict[tuple[object, ...], int] = {}
        self._worth: dict[tuple[int, int], float] = {}

    def worth(self, machine: int, first: int) -> float:
        """What a machine brings from a first step on, all costs taken off."""
        key = (machine, first)
        if key not in self._worth:
            self._worth[key] = self._played(machine, first)
        return self._worth[key]

    def _played(self, machine: int, first: int) -> float:
        k, problem = self._k, self._problem
        checks, repairs = len(problem.checks), len(problem.repairs)
        actual, weight, worth = int(self._drawn.actual[machine]), 1.0, 0.0
        # what was found since the last repair in any order, and what was before it
        before: tuple[object, ...] = ()
        here: frozenset[tuple[int, int]] = frozenset()
        act = first
        for _ in range(MOST_STEPS):
            draw = float(self._drawn.draws[machine, act]) if act < checks + repairs else 0.0
            if act < checks:
                needed = int(k.check_panels[act])
                worth -= weight * (k.check_cost[act] + opening_cost(k, needed, problem.opened))
                chances = np.cumsum(k.table[act, : int(k.outcomes[act]), actual])
                outcome = min(int(np.searchsorted(chances, draw, side="right")), chances.size - 1)
                problem = replace(
                    problem,
                    prior=_normalised(problem.prior * k.table[act, outcome]),
                    done=problem.done | 1 << act,
                    opened=problem.opened | needed,
                )
                here |= {(act, outcome)}
            elif act < checks + repairs:
                r = act - checks
                needed = int(k.repair_panels[r])
                worth -= weight * (k.repair_cost[r] + opening_cost(k, needed, problem.opened))
                actual = self._mended(r, actual, draw)
                passing = float(k.pass_chance[actual])
                worth += weight * passing * float(k.pass_value[actual])
                weight *= 1.0 - passing
                left = np.empty_like(problem.prior)
                after_repair(k, r, problem.prior, left)
                if weight <= 0.0 or left.sum() <= 0.0:
                    return worth
                problem = replace(
                    problem,
                    prior=_normalised(left),
                    tried=problem.tried | 1 << r,
                    opened=problem.opened | needed,
                )
                before, here = (before, here, r), frozenset()
            else:
                return worth + weight * float(k.ending_value[act - checks - repairs, actual])
            act = self._next((before, here), problem)
        ending = int(best_ending(k, problem.prior)[1])
        return worth + weight * float(k.ending_value[ending, actual])

    def _mended(self, r: int, actual: int, draw: float) -> int:
        k, chance = self._k, 0.0
        for m in range(int(k.move_start[r]), int(k.move_start[r + 1])):
            if k.move_source[m] == actual:
                chance += float(k.move_chance[m])
                if draw < chance:
                    return int(k.move_target[m])
        return actual

    def _next(self, key: tuple[object, ...], problem: Problem) -> int:
        if key not in self._acts:
            smaller, _ = problem.narrowed(MAX_DROPPED, MAX_SETS)
            look = Lookahead(smaller)
            look.plan(EFFORT)
            self._acts[key] = look.root.act
        return self._acts[key]


def _normalised(belief: Floats) -> Floats:
    return np.asarray(belief / belief.sum())
