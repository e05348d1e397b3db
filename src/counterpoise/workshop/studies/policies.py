"""Ways to work on a machine, to be compared: ours, and the plain ones people use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from hashlib import blake2b
from typing import cast

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.actions import Action, Kind, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.bounds import opening_cost
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.family_model import Base, base_of
from counterpoise.workshop.diagnosis.problem import DROPPED, Prices, Thought
from counterpoise.workshop.diagnosis.robust import Machine, choose
from counterpoise.workshop.jobs.settings import Settings

Policy = Callable[[Problem, tuple[str, ...]], Action]
MOST_SETS = 150  # of faults planned over here: half of what the bench page does, for speed
SURE = 0.85  # a checklist or an information seeker repairs when one suspect is this likely
TELLS = 0.01  # bits; less is no information
LONGEST_ON_LIST = 5.0  # minutes


class Memory:
    """What was decided before, by policy and history: the same history always gets the same answer.

    ``fresh`` holds what was added since it was last taken.
    """

    def __init__(self) -> None:
        self._known: dict[str, str] = {}
        self._fresh: dict[str, str] = {}

    def learn(self, decisions: Mapping[str, str]) -> None:
        """Take over decisions made elsewhere."""
        self._known.update(decisions)

    def take_fresh(self) -> dict[str, str]:
        """The decisions added since the last time, to be handed on."""
        fresh, self._fresh = self._fresh, {}
        return fresh

    def remembering(self, name: str, decide: Policy) -> Policy:
        """The policy that works out an answer once a history."""

        def policy(problem: Problem, history: tuple[str, ...]) -> Action:
            key = blake2b("|".join((name, *history)).encode(), digest_size=9).hexdigest()
            if key not in self._known:
                action = decide(problem, history)
                self._known[key] = self._fresh[key] = f"{action.kind}:{action.id}"
            kind, _, which = self._known[key].partition(":")
            return Action(cast("Kind", kind), which)

        return policy


def policies(family: Family, effort: Effort, memory: Memory | None = None) -> Mapping[str, Policy]:
    """The policies of the study by name. A ``memory`` is for one family, effort and workshop only."""
    memory = Memory() if memory is None else memory
    plain = memory.remembering("plain", lambda problem, _: _plain(problem))
    listed = _Checklist(family, plain)
    return {
        "ours": memory.remembering(
            "ours", lambda problem, _: _ahead(problem, effort, simple=False)
        ),
        "one_step": memory.remembering(
            "one_step", lambda problem, _: _ahead(problem, Effort(growths=1), simple=True)
        ),
        "ratio": plain,
        "information": memory.remembering("information", lambda problem, _: _information(problem)),
        "checklist": listed.next,
    }


def careful_policy(family: Family, settings: Settings, effort: Effort) -> Policy:
    """The careful mode, which also asks what the findings say of the catalog's figures."""
    base = base_of(family)

    def policy(problem: Problem, history: tuple[str, ...]) -> Action:
        smaller, dropped = problem.narrowed(DROPPED, MOST_SETS)
        look = Lookahead(smaller, prune_unlikely=True)
        if look.plan(effort).first.kind == "exhausted":
            return look.result().first
        prices = Prices(family, settings, "workshop", float(history[0].split()[0]))
        return choose(
            Thought(smaller, look, float(dropped.sum())),
            Machine(base, prices, {}, _found(base, history)),
        ).action

    return policy


def _found(base: Base, history: tuple[str, ...]) -> dict[str, Floats]:
    """What the checks since the last repair gave, from the history told to a policy."""
    found: dict[str, Floats] = {}
    for name, _, outcome in (line.partition("=") for line in history[1:]):
        if name in base.checks:
            found[name] = np.array([float(outcome == each) for each in base.checks[name].outcomes])
        else:
            found = {}
    return found


def _ahead(problem: Problem, effort: Effort, *, simple: bool) -> Action:
    smaller, _ = problem.narrowed(DROPPED, MOST_SETS)
    return Lookahead(smaller, ratio_only=simple, prune_unlikely=True).plan(effort).first


def _plain(problem: Problem) -> Action:
    """Repair by chance over cost, no checks; stop where stopping is best."""
    smaller, _ = problem.narrowed(DROPPED, MOST_SETS)
    k = smaller.arrays()
    _, first, ending = ratio_policy(
        k, smaller.prior, problem.tried, problem.opened, new_workspace(k)
    )
    checks = len(problem.checks)
    return action_of(
        problem, checks + first if first >= 0 else checks + len(problem.repairs) + ending
    )


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
        after = sum(
            float(m) * _entropy(row / m) for m, row in zip(mass, joint, strict=True) if m > 0
        )
        cost = k.checks[c].cost + opening_cost(arrays, arrays.check_panels[c], problem.opened)
        ratio = (now - after) / max(cost, 1e-9)
        if now - after > TELLS and ratio > best:
            best, which = ratio, c
    return Action("check", problem.checks[which].id) if which >= 0 else _plain(problem)


class _Checklist:
    """The same list for every machine: what opens nothing first, then by minutes; repair when one suspect is clear."""

    def __init__(self, family: Family, repairing: Policy) -> None:
        self._family, self._repairing = family, repairing

    def next(self, problem: Problem, history: tuple[str, ...]) -> Action:
        """The next on the list, or the repair."""
        if _most(problem) >= SURE:
            return self._repairing(problem, history)
        left = [c for c in self._listed(problem) if not problem.done >> c & 1]
        return (
            Action("check", problem.checks[left[0]].id)
            if left
            else self._repairing(problem, history)
        )

    def _listed(self, problem: Problem) -> list[int]:
        """Numbers of the checks on the list, in order."""
        minutes = [self._family.checks[check.id].minutes for check in problem.checks]
        listed = [
            c
            for c, time in enumerate(minutes)
            if time <= LONGEST_ON_LIST and not _to_open(problem, c)
        ]
        return sorted(listed, key=lambda c: problem.checks[c].cost)


def _to_open(problem: Problem, check: int) -> bool:
    """Whether it costs anything to get at a check."""
    needed = panels_needed(problem.access, problem.checks[check].access)
    return any(
        needed >> i & 1 and panel.open + panel.close > 0 for i, panel in enumerate(problem.access)
    )


def _most(problem: Problem) -> float:
    """Chance of the likeliest fault."""
    members = problem.hypotheses.members
    weights = np.repeat(problem.prior, members.shape[1])
    return float(
        np.bincount(members.ravel(), weights=weights)[: len(problem.hypotheses.fault_ids)].max()
    )


def _entropy(p: Floats) -> float:
    positive = p[p > 0]
    return float(-(positive * np.log2(positive)).sum())
