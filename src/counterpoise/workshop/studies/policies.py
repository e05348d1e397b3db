"""Ways to work on a machine, to be compared: ours, and the plain ones people use.

A policy is given the problem as it stands and the history: how the machine came in, then a line
``id=outcome`` for each step.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from hashlib import blake2b
from typing import cast

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.actions import Action, Kind, action_of
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.information import entropy_bits
from counterpoise.reasoning.kernels.bounds import check_opening
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, family_model, joint_prior
from counterpoise.workshop.diagnosis.kinds.kinds import kinds_of
from counterpoise.workshop.diagnosis.kinds.rows import Rows, all_rows
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, PlannedProblem
from counterpoise.workshop.diagnosis.robust import Evidence, careful_choice
from counterpoise.workshop.jobs.entries import NOT_THERE
from counterpoise.workshop.jobs.settings import Settings

Policy = Callable[[Problem, tuple[str, ...]], Action]
# Sets of faults planned over: half of what the bench page does, so that a study ends.
STUDY_MAX_SETS = 150
SURE = 0.85  # a checklist or an information seeker repairs when one suspect is this likely
LEAST_BITS = 0.01  # less is no information
LONGEST_ON_LIST = 5.0  # minutes; a list that is the same for every machine has quick looks only
_LEAST_COST = 1e-9  # minor units; a check that costs nothing must not divide by it


class DecisionMemory:
    """What was decided before, by policy and history: the same history always gets the same answer.

    For one family, effort and workshop only.
    """

    def __init__(self) -> None:
        self._known: dict[str, str] = {}
        self._fresh: dict[str, str] = {}

    def learn(self, decisions: Mapping[str, str]) -> None:
        """Take over decisions made elsewhere: ``kind:id`` of an action by digest of the history."""
        self._known.update(decisions)

    def take_fresh(self) -> dict[str, str]:
        """The decisions added since the last time, by digest of their history, to be handed on."""
        # taken over at once by the caller, so none is handed on twice
        fresh, self._fresh = self._fresh, {}
        return fresh

    def remembering(self, name: str, decide: Policy) -> Policy:
        """The policy ``decide``, called once for each history; ``name`` keeps policies apart."""

        def policy(problem: Problem, history: tuple[str, ...]) -> Action:
            # a study holds many thousands of long histories: only their digests are kept
            key = blake2b("|".join((name, *history)).encode(), digest_size=9).hexdigest()
            if key not in self._known:
                action = decide(problem, history)
                self._known[key] = self._fresh[key] = f"{action.kind}:{action.id}"
            kind, _, action_id = self._known[key].partition(":")
            return Action(cast("Kind", kind), action_id)

        return policy


def policies(
    family: Family, effort: Effort, memory: DecisionMemory | None = None
) -> Mapping[str, Policy]:
    """The policies by name: the planner alone, one step ahead, and three without a plan.

    ``effort`` is the planner's; each policy returns an action of the problem it is given.
    """
    memory = DecisionMemory() if memory is None else memory
    # the checklist ends in it too: both then decide alike, and it is worked out once
    by_ratio = memory.remembering("plain", lambda problem, _: _by_ratio(problem))
    return {
        "no_waiting": memory.remembering(
            "no_waiting", lambda problem, _: _planned(problem, effort, ratio_only=False)
        ),
        "one_step": memory.remembering(
            "one_step", lambda problem, _: _planned(problem, Effort(growths=1), ratio_only=True)
        ),
        "ratio": by_ratio,
        "information": memory.remembering(
            "information", lambda problem, _: _by_information(problem)
        ),
        "checklist": _Checklist(family, by_ratio).next,
    }


def careful_policy(family: Family, settings: Settings, effort: Effort) -> Policy:
    """The careful mode as a policy: it also asks what the findings say of the catalog's figures."""
    model, kinds = family_model(family), kinds_of(family, {})
    at_age: dict[float, Rows] = {}

    def policy(problem: Problem, history: tuple[str, ...]) -> Action:
        smaller, dropped = problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
        look = Lookahead(smaller, prune_unlikely=True)
        # nothing left to weigh
        if look.plan(effort).first.kind == "exhausted":
            return look.result().first
        # a history begins like "7 years, shakes"
        age_years = float(history[0].split()[0])
        prices = Prices(family, settings, "workshop", age_years)
        # ages are few in a study
        if age_years not in at_age:
            joint = np.exp(joint_prior(model, age_years, kinds))
            at_age[age_years] = all_rows(model, kinds, joint)
        rows = at_age[age_years].part(smaller.hypotheses)
        readings = {name: (row,) for name, row in weights_of_history(model, history).items()}
        evidence = Evidence(prices, rows, StandingEvidence(model, kinds, readings=readings))
        planned = PlannedProblem(smaller, look, float(dropped.sum()), rows)
        return careful_choice(planned, evidence).action

    return policy


def weights_of_history(model: FamilyModel, history: tuple[str, ...]) -> dict[str, Floats]:
    """By check since the last repair, (O,) one-hot weights of its outcome, from a history."""
    weights: dict[str, Floats] = {}
    for name, _, outcome in (line.partition("=") for line in history[1:]):
        if name in model.checks:
            outcomes = model.checks[name].outcomes
            # that there is no such thing says nothing of the catalog's figures
            if outcome == NOT_THERE:
                continue
            weights[name] = np.array([float(outcome == each) for each in outcomes])
        else:
            # a repair: what was found before it speaks of the machine as it was
            weights = {}
    return weights


def _planned(problem: Problem, effort: Effort, *, ratio_only: bool) -> Action:
    # unlikely first steps are pruned: a study makes some fifty decisions a job
    smaller, _ = problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
    return Lookahead(smaller, ratio_only=ratio_only, prune_unlikely=True).plan(effort).first


def _by_ratio(problem: Problem) -> Action:
    """Repair by chance over cost, no checks; stop where stopping is best."""
    smaller, _ = problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
    arrays = smaller.arrays()
    _, repair, ending = ratio_policy(
        arrays, smaller.prior, problem.tried, problem.opened, new_workspace(arrays)
    )
    # the planner counts checks first, then repairs, then endings
    checks, repairs = len(problem.checks), len(problem.repairs)
    return action_of(problem, checks + repair if repair >= 0 else checks + repairs + ending)


def _by_information(problem: Problem) -> Action:
    """The check with most bits for its cost until one suspect is nearly sure, then by ratio."""
    if _likeliest(problem) >= SURE:
        return _by_ratio(problem)
    smaller = problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)[0]
    arrays, best_ratio, best = smaller.arrays(), 0.0, -1
    now = entropy_bits(smaller.prior)
    for index, check in enumerate(smaller.checks):
        if problem.done >> index & 1:
            continue
        # (O, H): what is believed and would be seen
        joint = smaller.prior * smaller.tables[index]
        mass = joint.sum(axis=1)
        after = sum(
            float(m) * entropy_bits(row / m) for m, row in zip(mass, joint, strict=True) if m > 0
        )
        # opening counts for the check that opens first, as a bench would see it
        cost = check.cost + check_opening(arrays, index, problem.opened)
        ratio = (now - after) / max(cost, _LEAST_COST)
        if now - after > LEAST_BITS and ratio > best_ratio:
            best_ratio, best = ratio, index
    return Action("check", problem.checks[best].id) if best >= 0 else _by_ratio(problem)


class _Checklist:
    """The same list for every machine: what opens nothing, the cheapest first; then the repair.

    It repairs as soon as one suspect is nearly sure.
    """

    def __init__(self, family: Family, repairing: Policy) -> None:
        self._family, self._repairing = family, repairing

    def next(self, problem: Problem, history: tuple[str, ...]) -> Action:
        """The next check on the list; the repair by ratio where the list is empty."""
        if _likeliest(problem) >= SURE:
            return self._repairing(problem, history)
        left = [index for index in self._listed(problem) if not problem.done >> index & 1]
        if not left:
            return self._repairing(problem, history)
        # what it finds changes nothing but how sure one is: that is what a list is
        return Action("check", problem.checks[left[0]].id)

    def _listed(self, problem: Problem) -> list[int]:
        """Indices of the checks on the list, in order."""
        minutes = [self._family.checks[check.id].minutes for check in problem.checks]
        listed = [
            index
            for index, each in enumerate(minutes)
            if each <= LONGEST_ON_LIST and not _costs_opening(problem, index)
        ]
        return sorted(listed, key=lambda index: problem.checks[index].cost)


def _costs_opening(problem: Problem, check: int) -> bool:
    """Whether it costs anything to get at a check, on a machine that is shut."""
    # a position that takes no time (a door, a drawer) is no obstacle
    needed = panels_needed(problem.access, problem.checks[check].access)
    return any(
        needed >> i & 1 and panel.open + panel.close > 0 for i, panel in enumerate(problem.access)
    )


def _likeliest(problem: Problem) -> float:
    """Probability of the likeliest fault key."""
    members = problem.hypotheses.members
    weights = np.repeat(problem.prior, members.shape[1])
    # sets smaller than the widest are padded with an index beyond the last fault
    faults = len(problem.hypotheses.fault_ids)
    return float(np.bincount(members.ravel(), weights=weights)[:faults].max())
