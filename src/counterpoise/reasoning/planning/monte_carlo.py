"""Monte Carlo over machines: what the work takes when it is planned anew after each finding."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.monte_carlo import FIGURES, new_simulation, simulate
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.kernels.workspace import Workspace, new_workspace
from counterpoise.reasoning.problem import Problem

MOST_STEPS = 40  # of one machine; then it is given up
SHARE = 0.1  # how far each step is planned ahead, as a chance of coming to it


class Measures(NamedTuple):
    """What each action takes: checks, repairs with their retest, panels with closing."""

    check_minutes: Floats  # (C,)
    repair_minutes: Floats  # (R,)
    panel_minutes: Floats  # (A,)
    repair_parts: Floats  # (R,) price of the parts


def simulate_machines(
    problem: Problem, first: int, measures: Measures, machines: int, work: Workspace | None = None
) -> Floats:
    """(H, 8): what machines take from the action ``first`` on, by set of faults, times its chance.

    The sets are put in the order of their worth to one who knows, and cut into as many pieces of
    equal chance as there are machines; in each piece one machine is drawn, and stands for all of
    it. The figures are the columns of :mod:`counterpoise.reasoning.kernels.monte_carlo`; minutes,
    money in the unit of value. What is drawn is always drawn alike.
    """
    k, prior, rng = problem.arrays(), problem.prior, np.random.default_rng(0)
    known = np.zeros(prior.size)
    one_less, tried, opened = problem.hypotheses.one_less, problem.tried, problem.opened
    perfect_information_values(k, one_less, prior, tried, opened, known)
    # stratified: machines of like worth lie side by side, so each piece is nearly of one kind
    order = np.argsort(known, kind="stable")
    edges = np.cumsum(prior[order]) / prior.sum()
    places = (np.arange(machines) + rng.random(machines)) / machines
    actual = order[np.minimum(np.searchsorted(edges, places, side="right"), order.size - 1)]
    simulation = new_simulation(
        actual, rng.random((machines, MOST_STEPS)), prior.size, k.table.shape[1]
    )
    state = (problem.done, tried, opened)
    simulate(k, prior, state, first, SHARE, measures, simulation, work or new_workspace(k))
    return _by_set(simulation.figures, order, edges)


def _by_set(figures: Floats, order: Ints, edges: Floats) -> Floats:
    """(H, 8): the figures (n, 8) of each piece, shared among the sets as far as they lie in it.

    The sets stand in ``order`` and end at ``edges``, both (H,); the pieces are of equal length.
    """
    machines = len(figures)
    ends = np.sort(np.concatenate([edges, np.arange(1, machines) / machines]))
    lengths = np.diff(ends, prepend=0.0)
    middles = ends - 0.5 * lengths
    sets = order[np.minimum(np.searchsorted(edges, middles), order.size - 1)]
    piece = np.minimum((middles * machines).astype(np.int64), machines - 1)
    totals = np.zeros((order.size, FIGURES))
    np.add.at(totals, sets, lengths[:, None] * figures[piece])
    return totals
