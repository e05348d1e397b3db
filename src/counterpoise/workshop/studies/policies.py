"""Ways to work on a machine, to be compared: ours, and the plain ones people use.

A policy is given where the job stands and the history: how the machine came in, then a line
``id=outcome`` for each step.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import blake2b
from typing import cast

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.reasoning.actions import Action, Kind, action_of
from counterpoise.reasoning.information import entropy_bits
from counterpoise.reasoning.kernels.bounds import check_opening
from counterpoise.reasoning.kernels.ratio_policy import ratio_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.robust import careful_choice
from counterpoise.workshop.diagnosis.ways.first_step import held_by_hand, held_to_look
from counterpoise.workshop.diagnosis.ways.irreversible import cannot_be_undone
from counterpoise.workshop.studies.stand import Policy, Stand

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

        def policy(stand: Stand, history: tuple[str, ...]) -> Action:
            # a study holds many thousands of long histories: only their digests are kept
            key = blake2b("|".join((name, *history)).encode(), digest_size=9).hexdigest()
            if key not in self._known:
                action = decide(stand, history)
                self._known[key] = self._fresh[key] = f"{action.kind}:{action.id}"
            kind, _, action_id = self._known[key].partition(":")
            return Action(cast("Kind", kind), action_id)

        return policy


def policies(
    family: Family, effort: Effort, memory: DecisionMemory | None = None
) -> Mapping[str, Policy]:
    """The policies by name; ``effort`` is the planner's.

    "bench" is all that the bench page does, with its own effort and the comparison of first steps,
    and "careful" the careful mode at every step; both take long.
    """
    memory = DecisionMemory() if memory is None else memory
    # the checklist ends in it too: both then decide alike, and it is worked out once
    by_ratio = memory.remembering("plain", lambda stand, _: _by_ratio(stand.problem))
    one = Effort(growths=1)
    no_look = memory.remembering("no_look", lambda stand, _: _held(stand, effort))
    deciding: dict[str, Policy] = {
        "ours": lambda stand, history: _looked(stand, no_look(stand, history)),
        "as_before": lambda stand, _: _planned(stand.as_before(), effort),
        "no_waiting": lambda stand, _: _planned(stand, effort),
        "one_step": lambda stand, _: stand.planned(one, ratio_only=True).look.result().first,
        "information": lambda stand, _: _by_information(stand.problem),
        "bench": lambda stand, _: analyse(stand.case).plan.first,
        "careful": lambda stand, _: careful_choice(stand.planned(effort), stand.evidence).action,
    }
    remembered = {name: memory.remembering(name, decide) for name, decide in deciding.items()}
    remembered["no_look"] = no_look
    return {**remembered, "ratio": by_ratio, "checklist": _Checklist(family, by_ratio).next}


def _planned(stand: Stand, effort: Effort) -> Action:
    return stand.planned(effort).look.result().first


def _held(stand: Stand, effort: Effort) -> Action:
    """The plan's first step, or what goes by hand before it where that cannot be undone."""
    planned, case = stand.planned(effort), stand.case
    plan = planned.look.result()
    if not cannot_be_undone(planned.problem, plan.first, case.settings):
        return plan.first
    # what care chooses there waits for a check by hand where one is near
    action = careful_choice(planned, stand.evidence, plan).action
    held = held_by_hand(case, planned, action)
    return Action("check", held.touch.check) if held else action


def _looked(stand: Stand, action: Action) -> Action:
    """The same, unless a look at what an ending would throw away comes first, as at the bench."""
    # most steps are no ending: what a remembered one was decided on is not worked out again
    look = held_to_look(stand.case, stand.problem, action) if action.kind == "ending" else None
    return Action("check", look.touch.check) if look else action


def _by_ratio(problem: Problem) -> Action:
    """Repair by chance over cost, no checks; stop where stopping is best."""
    arrays = problem.arrays()
    _, repair, ending = ratio_policy(
        arrays, problem.prior, problem.tried, problem.opened, new_workspace(arrays)
    )
    # the planner counts checks first, then repairs, then endings
    checks, repairs = len(problem.checks), len(problem.repairs)
    return action_of(problem, checks + repair if repair >= 0 else checks + repairs + ending)


def _by_information(problem: Problem) -> Action:
    """The check with most bits for its cost until one suspect is nearly sure, then by ratio."""
    if _likeliest(problem) >= SURE:
        return _by_ratio(problem)
    arrays, best_ratio, best = problem.arrays(), 0.0, -1
    now = entropy_bits(problem.prior)
    for index, check in enumerate(problem.checks):
        # (O, H): what is believed and would be seen
        joint = problem.prior * problem.tables[index]
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

    def next(self, stand: Stand, history: tuple[str, ...]) -> Action:
        """The next check on the list; the repair by ratio where the list is empty."""
        problem = stand.problem
        if _likeliest(problem) >= SURE:
            return self._repairing(stand, history)
        left = [i for i in self._listed(problem) if not _was_done(problem.checks[i].id, history)]
        if not left:
            return self._repairing(stand, history)
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


def _was_done(check: str, history: tuple[str, ...]) -> bool:
    """Whether a list has ticked a check off: each is on it once."""
    return any(line.startswith(f"{check}=") for line in history[1:])


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
