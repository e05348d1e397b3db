"""Ways to work on a machine, to be compared: ours, and the plain ones people use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.actions import Action, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.bounds import panels_to_open, plain_policy
from counterpoise.reasoning.kernels.expand import work_space
from counterpoise.reasoning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.planning import DROPPED

Policy = Callable[[Problem, tuple[str, ...]], Action]
MOST_SETS = 150  # of faults planned over here: half of what the bench page does, for speed
SURE = 0.85  # a checklist or an information seeker repairs when one suspect is this likely
TELLS = 0.01  # bits; less is no information


def policies(family: Family, effort: Effort) -> Mapping[str, Policy]:
    """The policies of the study by name."""
    return {
        "ours": _remembering(lambda problem: _ahead(problem, effort, simple=False)),
        "one_step": _remembering(lambda problem: _ahead(problem, Effort(growths=1), simple=True)),
        "ratio": _remembering(_ratio),
        "information": _remembering(_information),
        "checklist": _remembering(lambda problem: _checklist(problem, family)),
    }


def _remembering(decide: Callable[[Problem], Action]) -> Policy:
    """The same history from the same start always gets the same answer; what was worked out is kept."""
    known: dict[tuple[Any, ...], Action] = {}

    def policy(problem: Problem, history: tuple[str, ...]) -> Action:
        key = (round(problem.working, 3), problem.done, problem.tried, _print_of(problem.prior), *history)
        if key not in known:
            known[key] = decide(problem)
        return known[key]

    return policy


def _print_of(belief: Floats) -> bytes:
    top = np.argsort(-belief, kind="stable")[:4]
    return np.concatenate([top, np.round(belief[top] * 1e9)]).astype(np.int64).tobytes()


def _ahead(problem: Problem, effort: Effort, *, simple: bool) -> Action:
    smaller, _ = problem.narrowed(DROPPED, MOST_SETS)
    return Lookahead(smaller, simple=simple, brisk=True).plan(effort).first


def _plain(problem: Problem) -> Action:
    smaller, _ = problem.narrowed(DROPPED, MOST_SETS)
    k = smaller.arrays()
    _, _, scratch, chain, *_ = work_space(k)
    _, first, ending = plain_policy(k, smaller.prior, problem.tried, problem.opened, scratch, chain)
    checks = len(problem.checks)
    return action_of(problem, checks + first if first >= 0 else checks + len(problem.repairs) + ending)


def _ratio(problem: Problem) -> Action:
    """Repair by chance over cost, no checks; stop where stopping is best."""
    return _plain(problem)


def _information(problem: Problem) -> Action:
    """The check with most information a minute until one suspect is nearly sure, then repair by chance over cost."""
    if _most(problem) >= SURE:
        return _plain(problem)
    k = problem.narrowed(DROPPED, MOST_SETS)[0]
    arrays, best, which = k.arrays(), 0.0, -1
    now = _entropy(k.prior)
    for c in range(len(k.checks)):
        if problem.done >> c & 1:
            continue
        joint = k.prior * k.tables[c]
        mass = joint.sum(axis=1)
        after = sum(float(m) * _entropy(row / m) for m, row in zip(mass, joint, strict=True) if m > 0)
        cost = k.checks[c].cost + panels_to_open(arrays, arrays.check_panels[c], problem.opened)
        ratio = (now - after) / max(cost, 1e-9)
        if now - after > TELLS and ratio > best:
            best, which = ratio, c
    return Action("check", problem.checks[which].id) if which >= 0 else _plain(problem)


def _checklist(problem: Problem, family: Family) -> Action:
    """The same list for every machine: what opens nothing first, then by minutes; repair when one suspect is clear."""
    if _most(problem) >= SURE:
        return _plain(problem)
    arrays = problem.narrowed(DROPPED, MOST_SETS)[0].arrays()
    order = sorted(
        range(len(problem.checks)),
        key=lambda c: (
            panels_to_open(arrays, arrays.check_panels[c], 0) > 0,
            panels_to_open(arrays, arrays.check_panels[c], 0) + problem.checks[c].cost,
        ),
    )
    for c in order:
        affordable = family.checks[problem.checks[c].id].minutes <= LONGEST_ON_LIST
        if not problem.done >> c & 1 and affordable and panels_to_open(arrays, arrays.check_panels[c], 0) <= 0:
            return Action("check", problem.checks[c].id)
    return _plain(problem)


LONGEST_ON_LIST = 5.0  # minutes


def _most(problem: Problem) -> float:
    return float((problem.prior @ problem.hypotheses.present).max())


def _entropy(p: Floats) -> float:
    positive = p[p > 0]
    return float(-(positive * np.log2(positive)).sum())
