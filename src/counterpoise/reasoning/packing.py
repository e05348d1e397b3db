"""A problem laid out as the arrays that the kernels read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hazards import hazard_arrays
from counterpoise.reasoning.hypotheses import Floats, Ints
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.model import Access

if TYPE_CHECKING:
    from counterpoise.reasoning.problem import Problem

ALL, NONE = -1, 0  # of the panels, as bits


def panels_needed(access: tuple[Access, ...], name: str | None) -> int:
    """The panels that must be open to reach ``name``, as bits in the order of ``access``."""
    position = {panel.id: i for i, panel in enumerate(access)}
    bits = 0
    while name is not None:
        bits |= 1 << position[name]
        name = access[position[name]].behind
    return bits


class Figures(NamedTuple):
    """What of a problem changes with the figures of a catalog; fields as in :class:`Arrays`."""

    check_cost: Floats
    repair_cost: Floats
    panel_cost: Floats
    table: Floats


def figures_of(problem: Problem) -> Figures:
    """Costs and chances of a problem."""
    widest = max((len(check.outcomes) for check in problem.checks), default=1)
    # outcomes a check does not have are padded with no chance
    table = np.zeros((len(problem.checks), widest, len(problem.hypotheses.sets)))
    for i, rows in enumerate(problem.tables):
        table[i, : len(rows)] = rows
    retest = problem.retest.cost
    return Figures(
        check_cost=np.array([check.cost for check in problem.checks], dtype=np.float64),
        repair_cost=np.array(
            [repair.cost + retest for repair in problem.repairs], dtype=np.float64
        ),
        panel_cost=np.array(
            [panel.open + panel.close for panel in problem.access], dtype=np.float64
        ),
        table=table,
    )


def packed(problem: Problem) -> Arrays:
    """The problem as arrays for the kernels."""
    hypotheses, figures = problem.hypotheses, figures_of(problem)
    repair_cost, panel_cost = figures.repair_cost, figures.panel_cost
    repair_panels = _ints(
        panels_needed(problem.access, repair.access) for repair in problem.repairs
    )
    reopening = _reopening(problem, repair_panels, panel_cost)
    sound = _ints(not faults for faults in hypotheses.sets).astype(np.bool_)
    ending_bound = _ending_bound(problem, repair_cost)
    transitions = problem.transitions
    # the best order of a fault's repairs reckons with opening anew for each
    cure, cure_start, cure_repair = _cures(problem, repair_cost + reopening)
    # a panel's price is paid with its opening, closing included
    return Arrays(
        check_cost=figures.check_cost,
        check_panels=_ints(panels_needed(problem.access, check.access) for check in problem.checks),
        check_keeps=_ints(NONE if check.shuts else ALL for check in problem.checks),
        outcomes=_ints(len(check.outcomes) for check in problem.checks),
        table=figures.table,
        repair_cost=repair_cost,
        repair_panels=repair_panels,
        reopening=reopening,
        retest_keeps=NONE if problem.retest.shuts else ALL,
        move_start=np.cumsum([0, *(len(t.source) for t in transitions)]).astype(np.int64),
        move_source=np.concatenate([np.zeros(0, np.int64), *(t.source for t in transitions)]),
        move_target=np.concatenate([np.zeros(0, np.int64), *(t.target for t in transitions)]),
        move_chance=np.concatenate([np.zeros(0), *(t.chance for t in transitions)]),
        panel_cost=panel_cost,
        pass_chance=np.where(sound, 1.0, problem.retest.misses),
        # floats even where all figures are whole, or the kernels would be compiled anew
        pass_value=np.where(
            sound, problem.working, problem.working - problem.retest.comeback
        ).astype(np.float64),
        ending_value=np.ascontiguousarray(problem.ending_values, dtype=np.float64),
        ending_bound=ending_bound,
        miss_gain=_miss_gain(problem, ending_bound),
        miss_chance=float(problem.retest.misses),
        comeback_value=float(problem.working - problem.retest.comeback),
        members=hypotheses.members,
        cure_start=cure_start,
        cure_repair=cure_repair,
        cure=cure,
        cured_start=np.cumsum([0, *(cure > 0).sum(axis=1)]).astype(np.int64),
        cured_fault=np.nonzero(cure > 0)[1].astype(np.int64),
        forced=not problem.endings,
        one_fault=_one_fault(problem),
        separable=_one_fault(problem) and _separable(problem, cure),
        **hazard_arrays(problem)._asdict(),
    )


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)


def _reopening(problem: Problem, repair_panels: Ints, panel_cost: Floats) -> Floats:
    """(R,): cost of opening for each repair after a retest failed; 0 where panels stay open."""
    if not problem.retest.shuts:
        return np.zeros(len(problem.repairs))
    return np.asarray((repair_panels[:, None] >> np.arange(panel_cost.size) & 1) @ panel_cost)


def _cures(problem: Problem, price: Floats) -> tuple[Floats, Ints, Ints]:
    """Chance that each repair cures each fault, and for each fault its repairs, best first.

    Returns ((R, F + 1), (F + 1,) where each fault's repairs start, (Q,) the repairs). An attempt
    at its ``price`` (R,) gains g and ends the trying with chance e: largest g/e first (swap two
    neighbours to see it). Where a retest never misses, that is least cost a chance.
    """
    working, misses = problem.working, problem.retest.misses
    comeback_value = working - problem.retest.comeback
    names = problem.hypotheses.fault_ids
    cure, column = np.zeros((len(problem.repairs), len(names) + 1)), _columns(names)
    for i, repair in enumerate(problem.repairs):
        for name, chance_of_it in repair.cures.items():
            # a fault that this machine cannot have has no column
            if name in column:
                cure[i, column[name]] = chance_of_it
    # a repair of several faults may stand in several of these lists
    fault, curing = np.nonzero(cure[:, :-1].T > 0)
    chance = cure[curing, fault]
    gain = chance * working + (1.0 - chance) * misses * comeback_value - price[curing]
    ratio = gain / (chance + (1.0 - chance) * misses)
    # by fault, then by ratio; equals stay in the order of the repairs
    order = np.lexsort((-ratio, fault))
    start = np.concatenate([[0], np.cumsum(np.bincount(fault, minlength=len(names)))])
    return cure, start.astype(np.int64), curing[order].astype(np.int64)


def _columns(names: tuple[str, ...]) -> dict[str, int]:
    return {name: i for i, name in enumerate(names)}


def _ending_bound(problem: Problem, repair_cost: Floats) -> Floats:
    """(H,): the best ending of a set if some faults were first repaired away at the least cost.

    Minus infinity where no ending is given.
    """
    if not len(problem.ending_values):
        return np.full(len(problem.hypotheses.sets), -np.inf)
    now = problem.ending_values.max(axis=0)
    bound: NDArray[np.float64] = now.copy()
    # one repair at least leads to a smaller set; the least of all is a bound that always holds
    cheapest = float(repair_cost.min(initial=np.inf))
    for transition in problem.transitions:
        np.maximum.at(bound, transition.source, now[transition.target] - cheapest)
    # what two and three repairs lead to, in sets of as many faults, is reached by passing bounds on
    for _ in range(problem.hypotheses.members.shape[1] - 1):
        for transition in problem.transitions:
            np.maximum.at(bound, transition.source, bound[transition.target])
    return bound


def _one_fault(problem: Problem) -> bool:
    """Whether exactly one fault is there for certain, and a retest misses nothing."""
    return (
        problem.hypotheses.members.shape[1] == 1
        and problem.prior[0] == 0.0
        and problem.retest.misses == 0.0
    )


def _separable(problem: Problem, cure: Floats) -> bool:
    """Whether each fault has one repair of its own, and no ending depends on the fault."""
    # the last column of padding cures nothing
    helps = cure > 0
    endings = problem.ending_values[:, 1:]
    return bool(
        (helps.sum(axis=0) <= 1).all()
        and (helps.sum(axis=1) <= 1).all()
        and (endings == endings[:, :1]).all()
    )


def _miss_gain(problem: Problem, ending_bound: Floats) -> Floats:
    """(H,): most that a retest's missing a fault can add to one attempt.

    The chance of a miss times what a pass with a fault left is worth beyond the least bound on an
    ending of the faults left.
    """
    if problem.retest.misses <= 0:
        return np.zeros(len(ending_bound))
    least, smaller = ending_bound.copy(), problem.hypotheses.one_less
    # nothing left wrong is no miss
    least[problem.hypotheses.index[()]] = np.inf
    for _ in range(smaller.shape[1] - 1):
        least = np.minimum(least, least[smaller].min(axis=1))
    passing = problem.working - problem.retest.comeback
    return np.asarray(problem.retest.misses * np.maximum(passing - least, 0.0))
