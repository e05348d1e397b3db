"""Machines worked on in thought: what the work takes when it is planned anew after each finding, as at the bench."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.monte_carlo import FIGURES, played_out
from counterpoise.reasoning.kernels.perfect_information import known_values
from counterpoise.reasoning.kernels.workspace import Room, work_space
from counterpoise.reasoning.problem import Problem

MOST_STEPS = 40  # of one machine; then it is given up
SHARE = 0.1  # how far each step is thought out, as a chance of coming to it


class Measures(NamedTuple):
    """What each action takes: checks (C,), repairs with their proof (R,), panels with closing (A,); parts (R,)."""

    check_minutes: Floats
    repair_minutes: Floats
    panel_minutes: Floats
    repair_parts: Floats


def played(
    problem: Problem, first: int, measures: Measures, machines: int, work: Room | None = None
) -> Floats:
    """(H, 8): what ``machines`` take from the action ``first`` on, by the set of faults, times their chance.

    The sets are put in the order of their worth to one who knows, and cut into as many pieces of equal chance; in each
    piece one machine is drawn, and stands for all of it. The figures are those of
    :mod:`counterpoise.reasoning.kernels.monte_carlo`; what is drawn is always drawn alike.
    """
    k, prior, rng = problem.arrays(), problem.prior, np.random.default_rng(0)
    known = np.zeros(prior.size)
    known_values(k, problem.hypotheses.one_less, prior, problem.tried, problem.opened, known)
    order = np.argsort(known, kind="stable")
    edges = np.cumsum(prior[order]) / prior.sum()
    places = (np.arange(machines) + rng.random(machines)) / machines
    there = order[np.minimum(np.searchsorted(edges, places, side="right"), order.size - 1)]
    figures, throws = np.zeros((machines, FIGURES)), rng.random((machines, MOST_STEPS))
    state = (problem.done, problem.tried, problem.opened)
    played_out(
        k, prior, state, first, SHARE, there, throws, measures, work or work_space(k), figures
    )
    return _shared_out(figures, order, edges)


def _shared_out(figures: Floats, order: Ints, edges: Floats) -> Floats:
    """What was found of each piece, given to the sets (in ``order``, ending at ``edges``) as far as they are in it."""
    machines = len(figures)
    ends = np.sort(np.concatenate([edges, np.arange(1, machines) / machines]))
    lengths = np.diff(ends, prepend=0.0)
    middles = ends - 0.5 * lengths
    sets = order[np.minimum(np.searchsorted(edges, middles), order.size - 1)]
    piece = np.minimum((middles * machines).astype(np.int64), machines - 1)
    found = np.zeros((order.size, FIGURES))
    np.add.at(found, sets, lengths[:, None] * figures[piece])
    return found
