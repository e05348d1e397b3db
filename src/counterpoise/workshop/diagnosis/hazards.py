"""Faults that forbid: with which a machine is not switched on, or not handed on unrepaired.

A fault counts from a chance of 1 in 20 on, and all of them together from 1 in 10 (see
:mod:`counterpoise.reasoning.hazards`); one that a look, a hand or a meter has shown counts whatever
the figures say, until a repair that mends it. The planner plans under the same rule; what is said
here stands before a step, and is acknowledged where somebody takes it all the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.errors import InputError
from counterpoise.money.quote import out_of_ten
from counterpoise.reasoning.hazards import ALONE, Hazard, barring
from counterpoise.reasoning.hypotheses import Hypotheses
from counterpoise.workshop.diagnosis.family_model import fault_of
from counterpoise.workshop.jobs.choices import SAFEGUARDS

if TYPE_CHECKING:
    from counterpoise.catalog.family import FaultEntry
    from counterpoise.workshop.diagnosis.replay import Situation

# Kinds of check by which somebody touches or sees the part; an answer or a spin is hearsay of it.
BY_HAND = frozenset({"feel", "look", "measure"})
# A finding shows a fault that gives it at least so often, where no other does more often than that
# (from memory: a crack that is seen, not a knock that could be one).
SHOWN, ELSE = 0.5, 0.1
LOCAL_CODES = "Local codes and licensed people come first."
# Ways that put the machine into the hands of somebody who may use it; nobody sells what can hurt.
SOLD = frozenset({"sell_as_is", "repair_resell"})
HANDED_ON = frozenset({"hand_back", "refer_on", "replace", "repair_hand_back"})


@dataclass(frozen=True, slots=True)
class Forbidden:
    """A fault that forbids, and why; ``shown``: somebody has seen, felt or measured it."""

    fault: str
    title: str
    reason: str
    chance: float
    shown: bool
    # by fault key
    chances: Mapping[str, float]

    @property
    def known(self) -> str:
        """The fault and how it is known, as it stands in a sentence."""
        name = self.title[:1].lower() + self.title[1:]
        return f"{name} (seen)" if self.shown else f"{name} ({out_of_ten(self.chance)})"


def must_not_run(situation: Situation) -> tuple[Forbidden, ...]:
    """What forbids to switch the machine on now, likeliest first; empty where nothing does."""
    return _forbidding(situation, {f.id: f.must_not_run for f in situation.family.faults.values()})


def must_not_leave(situation: Situation) -> tuple[Forbidden, ...]:
    """What forbids to hand the machine on as it is, likeliest first; empty where nothing does."""
    reasons = {f.id: f.must_not_leave for f in situation.family.faults.values()}
    return _forbidding(situation, reasons)


def run_texts(forbidden: tuple[Forbidden, ...]) -> tuple[str, ...]:
    """What stands before a step that runs the machine."""
    return tuple(f"Do not switch it on: {each.known}. {each.reason}" for each in forbidden)


def leave_texts(forbidden: tuple[Forbidden, ...]) -> tuple[str, ...]:
    """What stands beside a way that hands the machine on unrepaired."""
    return tuple(f"Not to be handed on as it is: {each.known}. {each.reason}" for each in forbidden)


def refuse_run(situation: Situation, *, acknowledged: bool) -> None:
    """Raise InputError where the machine must not be run and nobody acknowledged that."""
    forbidden = must_not_run(situation)
    if forbidden and not acknowledged:
        raise InputError(
            f"acknowledged: {' '.join(run_texts(forbidden))}",
            field="acknowledged",
            remedy="Read it; whoever runs it all the same says so with 'acknowledged'",
        )


def refuse_way(situation: Situation, ending: str, safeguard: str, *, closing: bool) -> None:
    """Raise InputError where a way hands on what must not be handed on, without a safeguard.

    ``closing``: the machine leaves now; a decision to repair is free.
    """
    sold = ending in (SOLD if closing else SOLD - {"repair_resell"})
    handed = ending in (HANDED_ON if closing else HANDED_ON - {"repair_hand_back"})
    forbidden = must_not_leave(situation) if sold or handed else ()
    if not forbidden:
        return
    said = " ".join(leave_texts(forbidden))
    field = "ending" if closing else "option"
    if sold:
        raise InputError(
            f"{field}: it may not be sold. {said}",
            field=field,
            remedy="Repair it first, part it out, or scrap it",
        )
    if not safeguard:
        ways = "; ".join(f"{name} ({words})" for name, words in SAFEGUARDS.items())
        raise InputError(
            f"safeguard: {said}",
            field="safeguard",
            remedy=f"Say how it leaves: {ways}. {LOCAL_CODES}",
        )


def planner_hazards(situation: Situation, hypotheses: Hypotheses) -> tuple[Hazard, ...]:
    """What the planner must wait for, by the planner's own names of faults."""
    faults = [fault for fault in situation.family.faults.values() if fault.must_not_run]
    if not faults:
        return ()
    shown = _shown(situation, faults)
    return tuple(
        Hazard(
            tuple(name for name in hypotheses.fault_ids if fault_of(name) == fault.id),
            0.0 if fault.id in shown else ALONE,
        )
        for fault in faults
    )


def _forbidding(situation: Situation, reasons: Mapping[str, str]) -> tuple[Forbidden, ...]:
    faults = [fault for fault in situation.family.faults.values() if reasons[fault.id]]
    # most families have none, and their pages ask for nothing more
    if not faults:
        return ()
    shown, chances = _shown(situation, faults), situation.key_chances
    hazards = {f.id: Hazard(f.keys, 0.0 if f.id in shown else ALONE) for f in faults}
    # seen since the repair, it is there whatever the repair was meant to do
    seen = {key for fault in faults if fault.id in shown for key in fault.keys}
    names = barring(hazards, chances, situation.mended - seen)
    by_id = {fault.id: fault for fault in faults}
    return tuple(
        Forbidden(
            name,
            by_id[name].title,
            reasons[name],
            sum(chances[key] for key in by_id[name].keys),
            name in shown,
            {key: chances[key] for key in by_id[name].keys},
        )
        for name in names
    )


def _shown(situation: Situation, faults: list[FaultEntry]) -> frozenset[str]:
    """Ids of the faults that a standing finding by hand shows, and no other fault explains."""
    model = situation.model
    alike = {key for fault in faults for key in fault.keys}
    index, ids = model.hypotheses.index, model.hypotheses.fault_ids
    alone = {key: index[(i,)] for i, key in enumerate(ids)}
    others = [index[()], *(row for key, row in alone.items() if key not in alike)]
    shown = set()
    for check in situation.evidence.readings:
        weights = situation.evidence.outcome_weights(check)
        if weights is None or model.family.checks[check].kind not in BY_HAND:
            continue
        # (S,) how often each single fault gives what was found
        fits = (weights / weights.sum()) @ model.trusted[check]
        if float(np.max(fits[others])) > ELSE:
            continue
        shown |= {f.id for f in faults if max(float(fits[alone[key]]) for key in f.keys) >= SHOWN}
    return frozenset(shown)
