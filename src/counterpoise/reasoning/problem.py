"""An abstract model made ready for planning: every table an array over hypotheses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.errors import ModelError
from counterpoise.reasoning.belief import Transition, transition_of
from counterpoise.reasoning.hazards import Hazard, hazard_arrays
from counterpoise.reasoning.hypotheses import (
    Floats,
    Hypotheses,
    Ints,
    enumerate_hypotheses,
    prior_of,
)
from counterpoise.reasoning.kernels.arrays import Arrays
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Access, Check, Ending, Model, Repair, Retest

ALL, NONE = -1, 0  # of the panels, as bits
MOST_ACTIONS = 62  # a set of checks, repairs or panels is one machine word, with a sign


@dataclass(frozen=True)
class Problem:
    """What is planned over; ``prior`` (H,) is the belief the plan starts from.

    ``tables`` are (O, H) by check, ``ending_values`` (E, H). ``opened``, ``done`` and ``tried``
    (bits) say where the job already is. Costs and values share one unit. ``hazards``: what bars a
    run.
    """

    hypotheses: Hypotheses
    prior: Floats
    checks: tuple[Check, ...]
    repairs: tuple[Repair, ...]
    access: tuple[Access, ...]
    endings: tuple[Ending, ...]
    retest: Retest
    working: float
    tables: tuple[Floats, ...]
    transitions: tuple[Transition, ...]
    ending_values: Floats
    opened: int = 0
    done: int = 0
    tried: int = 0
    hazards: tuple[Hazard, ...] = ()

    def arrays(self) -> Arrays:
        """The problem as arrays for the kernels."""
        return _pack(self)

    def narrowed(self, share_dropped: float, most: int) -> tuple[Problem, Floats]:
        """The problem over its most probable hypotheses, and the (H,) probabilities left out.

        Hypotheses are dropped while their sum stays under ``share_dropped``, and beyond ``most``.
        """
        # stable, so that sets of equal chance are dropped in their order on every machine
        order = np.argsort(-self.prior, kind="stable")
        sums = np.cumsum(self.prior[order])
        keep = min(most, int(np.searchsorted(sums, 1.0 - share_dropped)) + 1)
        chosen = order[:keep]
        smaller, kept = self.hypotheses.subset(chosen)
        # subsets kept for the sake of repairs alone have no chance of their own
        weights = np.where(np.isin(kept, chosen), self.prior[kept], 0.0)
        dropped = self.prior.copy()
        dropped[kept] -= weights
        problem = replace(
            self,
            hypotheses=smaller,
            prior=weights / weights.sum(),
            tables=tuple(table[:, kept] for table in self.tables),
            transitions=tuple(_kept_transition(t, kept, len(dropped)) for t in self.transitions),
            ending_values=self.ending_values[:, kept],
        )
        return problem, dropped


def compile_model(model: Model) -> Problem:
    """Enumerate the hypotheses of a model and lay out its tables.

    Raises ModelError where there are too many hypotheses, or actions to plan over.
    """
    hypotheses = enumerate_hypotheses(model)
    prior = prior_of(model, hypotheses)
    # said here rather than where a shift of bits would wrap round
    for kind, count in (
        ("checks", len(model.checks)),
        ("repairs", len(model.repairs)),
        ("access", len(model.access)),
    ):
        if count >= MOST_ACTIONS:
            raise ModelError(
                f"{count} {kind}: fewer than {MOST_ACTIONS} can be planned over", field=kind
            )
    repairs = model.repairs
    # where nothing may be wrong, the bare retest can tell: a repair that cures nothing
    if model.nothing_wrong:
        repairs = (*repairs, Repair("retest", 0.0, {}))
    return Problem(
        hypotheses=hypotheses,
        prior=prior,
        checks=model.checks,
        repairs=repairs,
        access=model.access,
        endings=model.endings,
        retest=model.retest,
        working=model.working,
        tables=tuple(outcome_table(check, hypotheses) for check in model.checks),
        transitions=tuple(transition_of(repair, hypotheses) for repair in repairs),
        ending_values=np.array(
            [e.base + hypotheses.sum_over(e.per_fault) for e in model.endings]
        ).reshape(len(model.endings), len(hypotheses.sets)),
    )


def _kept_transition(transition: Transition, kept: Ints, count: int) -> Transition:
    """The moves among the sets that are kept, of ``count`` sets before.

    A kept set's smaller sets are kept too, so none leads outside.
    """
    place = np.full(count, -1, dtype=np.int64)
    place[kept] = np.arange(len(kept))
    inside = place[transition.source] >= 0
    return Transition(
        place[transition.source[inside]],
        place[transition.target[inside]],
        transition.chance[inside],
    )


def panels_needed(access: tuple[Access, ...], name: str | None) -> int:
    """The panels that must be open to reach ``name``, as bits in the order of ``access``."""
    position = {panel.id: i for i, panel in enumerate(access)}
    bits = 0
    while name is not None:
        bits |= 1 << position[name]
        name = access[position[name]].behind
    return bits


def _pack(problem: Problem) -> Arrays:
    hypotheses, count = problem.hypotheses, len(problem.hypotheses.sets)
    widest = max((len(check.outcomes) for check in problem.checks), default=1)
    # outcomes a check does not have are padded with no chance
    table = np.zeros((len(problem.checks), widest, count))
    for i, rows in enumerate(problem.tables):
        table[i, : len(rows)] = rows
    repair_cost = np.array(
        [repair.cost + problem.retest.cost for repair in problem.repairs], dtype=np.float64
    )
    panel_cost = np.array([panel.open + panel.close for panel in problem.access], dtype=np.float64)
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
        check_cost=np.array([check.cost for check in problem.checks], dtype=np.float64),
        check_panels=_ints(panels_needed(problem.access, check.access) for check in problem.checks),
        check_keeps=_ints(NONE if check.shuts else ALL for check in problem.checks),
        outcomes=_ints(len(check.outcomes) for check in problem.checks),
        table=table,
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
    cure = np.zeros((len(problem.repairs), len(names) + 1))
    for i, repair in enumerate(problem.repairs):
        cure[i, :-1] = [repair.cures.get(name, 0.0) for name in names]
    start, which = [0], []
    # a repair of several faults may stand in several of these lists
    for column in range(len(names)):
        curing = np.flatnonzero(cure[:, column] > 0)
        chance = cure[curing, column]
        gain = chance * working + (1.0 - chance) * misses * comeback_value - price[curing]
        ratio = gain / (chance + (1.0 - chance) * misses)
        which += curing[np.argsort(-ratio, kind="stable")].tolist()
        start.append(len(which))
    return cure, _ints(start), _ints(which)


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
