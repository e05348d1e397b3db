"""Monte Carlo over machines: what the work takes when it is planned anew after each finding."""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.monte_carlo import (
    FIGURES,
    WORTH,
    Simulation,
    new_simulation,
    simulate,
)
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.kernels.remembered_steps import Remembered, new_memory
from counterpoise.reasoning.kernels.workspace import Workspace, new_workspace
from counterpoise.reasoning.planning.background_call import BackgroundCall
from counterpoise.reasoning.problem import Problem

MOST_STEPS = 40  # of a machine; then it is given up
SHARE = 0.1  # how far each step is planned ahead, as a chance of coming to it
PLACES = 1 << 14  # steps remembered at most, twice over


class Measures(NamedTuple):
    """What each action takes: checks, repairs with their retest, panels with closing."""

    check_minutes: Floats  # (C,)
    repair_minutes: Floats  # (R,)
    panel_minutes: Floats  # (A,)
    repair_parts: Floats  # (R,) price of the parts


class DrawnMachines:
    """Machines drawn from the belief of a problem, each worked on from any first action.

    The sets are put in the order of their worth to one who knows, and cut into as many pieces of
    equal chance as there are machines; in each piece one machine is drawn, and stands for all of
    it. What each check would show on it and what each repair would cure is drawn too, once, so that
    it is the same machine and the same luck whatever comes first. What is drawn is always drawn
    alike for one ``luck``. ``actual`` (n,) is the set of faults that each machine has, ``draws``
    (n, C + R) uniform.
    """

    def __init__(
        self,
        problem: Problem,
        measures: Measures,
        machines: int,
        work: Workspace | None = None,
        *,
        luck: int = 0,
    ) -> None:
        self.problem, self.measures, self.machines = problem, measures, machines
        k, prior, rng = problem.arrays(), problem.prior, np.random.default_rng(luck)
        self._luck = luck
        self.arrays, self._work = k, work or new_workspace(k)
        self._second: tuple[Workspace, Remembered] | None = None
        known = np.zeros(prior.size)
        one_less = problem.hypotheses.one_less
        perfect_information_values(k, one_less, prior, problem.tried, problem.opened, known)
        # stratified: machines of like worth lie side by side, so each piece is nearly of one kind
        self._order = np.argsort(known, kind="stable")
        self._edges = np.cumsum(prior[self._order]) / prior.sum()
        places = (np.arange(machines) + rng.random(machines)) / machines
        last = self._order.size - 1
        at = np.minimum(np.searchsorted(self._edges, places, side="right"), last)
        self.actual = self._order[at]
        actions = k.check_cost.size + k.repair_cost.size
        self.draws = rng.random((machines, actions))
        self._memory = new_memory(MOST_STEPS, actions, k.table.shape[1], PLACES)
        self._state = (problem.done, problem.tried, problem.opened)
        self._figures: dict[int, Floats] = {}
        self._taken: dict[int, Floats] = {}

    @cached_property
    def others(self) -> DrawnMachines:
        """As many other machines with luck of their own, to see whether what came out holds up."""
        return DrawnMachines(
            self.problem, self.measures, self.machines, self._work, luck=self._luck + 1
        )

    def figures(self, first: int, every: int = 1) -> Floats:
        """(m, 10): what every so many of the machines take from the action ``first`` on.

        The columns are those of :mod:`counterpoise.reasoning.kernels.monte_carlo`; minutes, money
        in the unit of value. A machine is worked on once, however often it is asked for.
        """
        missing = self._missing(first, every)
        if missing.size:
            self._keep(first, self._worked_on(first, missing, self._work, self._memory))
        return self._figures[first][::every]

    def work_on(self, here: list[tuple[int, int]], beside: list[tuple[int, int]]) -> None:
        """Work on machines on two cores: first actions, and every so many of the machines each."""
        asked = [(first, self._missing(first, every)) for first, every in beside]
        # what is remembered is not shared: two cores may not write into one memory
        if self._second is None:
            memory = new_memory(MOST_STEPS, self.draws.shape[1], self.arrays.table.shape[1], PLACES)
            self._second = new_workspace(self.arrays, self._work), memory
        second = self._second
        call = BackgroundCall(
            lambda: [(first, self._worked_on(first, m, *second)) for first, m in asked if m.size]
        )
        for first, every in here:
            self.figures(first, every)
        for first, simulation in call.result():
            self._keep(first, simulation)

    def taken(self, first: int) -> Floats:
        """(C + R,) how likely each action is to be done if ``first`` comes first."""
        self.figures(first)
        return self._taken[first] / self.machines

    def by_set(self, first: int) -> Floats:
        """(H, 10): the figures from the action ``first`` on by set of faults, times its chance.

        Those of each piece are shared among the sets as far as they lie in it.
        """
        figures, order, machines = self.figures(first), self._order, self.machines
        ends = np.sort(np.concatenate([self._edges, np.arange(1, machines) / machines]))
        lengths = np.diff(ends, prepend=0.0)
        middles = ends - 0.5 * lengths
        sets = order[np.minimum(np.searchsorted(self._edges, middles), order.size - 1)]
        piece = np.minimum((middles * machines).astype(np.int64), machines - 1)
        totals = np.zeros((order.size, FIGURES))
        np.add.at(totals, sets, lengths[:, None] * figures[piece])
        return totals

    def _missing(self, first: int, every: int) -> Ints:
        """The machines asked for that were not worked on yet from this first action."""
        if first not in self._figures:
            self._figures[first] = np.full((self.machines, FIGURES), np.nan)
            self._taken[first] = np.zeros(self.draws.shape[1])
        asked = np.arange(0, self.machines, every)
        missing: Ints = asked[np.isnan(self._figures[first][asked, WORTH])]
        return missing

    def _worked_on(
        self, first: int, chosen: Ints, work: Workspace, memory: Remembered
    ) -> Simulation:
        prior = self.problem.prior
        # the simulation uses its machines up
        simulation = new_simulation(
            self.actual.copy(), self.draws, chosen.copy(), prior.size, memory
        )
        simulate(self.arrays, prior, self._state, first, SHARE, self.measures, simulation, work)
        return simulation

    def _keep(self, first: int, simulation: Simulation) -> None:
        done = simulation.order
        self._figures[first][done] = simulation.figures[done]
        self._taken[first] += simulation.taken


def simulate_machines(
    problem: Problem, first: int, measures: Measures, machines: int, work: Workspace | None = None
) -> Floats:
    """(H, 10): what machines take from the action ``first`` on, by set of faults, times its chance.

    As :meth:`DrawnMachines.by_set`.
    """
    return DrawnMachines(problem, measures, machines, work).by_set(first)
