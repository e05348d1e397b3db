"""From a family of machines to an abstract problem: what the planner plans over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, wraps
from typing import TypeVar

import numpy as np

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.catalog.priors import independent_priors
from counterpoise.reasoning.belief import Transition, mean_after, normalised, to_log, transition_of
from counterpoise.reasoning.hypotheses import Floats, Hypotheses, enumerate_hypotheses
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model, Repair

Known = TypeVar("Known")
MAX_FAULTS = 3
SLIP = (
    0.01  # chance that a finding was read or tapped wrong, spread over all outcomes (from memory)
)


@dataclass(frozen=True)
class Base:
    """What holds for every machine of a family: the sets of faults, and what each check and repair does to them."""

    family: Family
    hypotheses: Hypotheses
    fault_of: tuple[str, ...]  # the fault id of each fault key
    checks: Mapping[str, Check]
    repairs: Mapping[str, Repair]
    tables: Mapping[str, Floats]
    moves: Mapping[str, Transition]
    complaints: Mapping[str, Floats]  # (H,) chance of hearing each


class _Held:
    """A family as a cache key: the same object, not the same contents."""

    def __init__(self, family: Family) -> None:
        self.family = family

    def __hash__(self) -> int:
        return id(self.family)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and other.family is self.family


def remembered(worked_out: Callable[[Family], Known]) -> Callable[[Family], Known]:
    """Keep what was worked out of the last eight families."""

    @lru_cache(maxsize=8)
    def known(held: _Held) -> Known:
        return worked_out(held.family)

    return wraps(worked_out)(lambda family: known(_Held(family)))


@remembered
def base_of(family: Family) -> Base:
    """The family laid out for reasoning; costs a moment the first time."""
    faults = tuple(
        Fault(key, 0.5, group=fault.id if fault.grades else None, alone=fault.alone)
        for fault in family.faults.values()
        for key in fault.keys
    )
    checks = {entry.id: abstract_check(entry) for entry in family.checks.values()}
    repairs = {
        entry.id: Repair(entry.id, 0.0, entry.cures, entry.access)
        for entry in family.repairs.values()
    }
    hypotheses = enumerate_hypotheses(
        Model(faults, prior="independent", max_faults=MAX_FAULTS, nothing_wrong=True),
    )
    return Base(
        family=family,
        hypotheses=hypotheses,
        fault_of=tuple(fault.id for fault in family.faults.values() for _ in fault.keys),
        checks=checks,
        repairs=repairs,
        tables={name: slipped(outcome_table(check, hypotheses)) for name, check in checks.items()},
        moves={name: transition_of(repair, hypotheses) for name, repair in repairs.items()},
        complaints={name: _complaint(family, name, hypotheses) for name in family.complaints},
    )


def abstract_check(entry: CheckEntry) -> Check:
    """A catalog check as the abstract model sees it; costs are filled in by who plans."""
    return Check(
        entry.id,
        0.0,
        tuple(entry.outcomes),
        entry.under,
        entry.otherwise,
        entry.access,
        exclusive=entry.exclusive,
    )


def slipped(table: Floats) -> Floats:
    """The chances (O, H) of a check with the chance that a finding was read or tapped wrong."""
    return np.asarray((1.0 - SLIP) * table + SLIP / len(table))


def _complaint(family: Family, name: str, hypotheses: Hypotheses) -> Floats:
    """(H,): noisy-OR of the faults present, with the complaint's own leak."""
    heard = {
        key: by_complaint[name]
        for fault in family.faults.values()
        for key, by_complaint in fault.complaints.items()
        if name in by_complaint
    }
    silent = np.array([1.0 - heard.get(key, 0.0) for key in hypotheses.fault_ids])
    return np.asarray(1.0 - (1.0 - family.complaints[name].leak) * hypotheses.product_over(silent))


def prior_belief(base: Base, age_years: float, features: Mapping[str, str]) -> Floats:
    """(H,) log belief before the complaint: a machine of this age and these features brought in with trouble."""
    priors = independent_priors(base.family, age_years=age_years, features=features)
    chance = np.array([priors.get(key, 0.0) for key in base.hypotheses.fault_ids])
    weights = base.hypotheses.product_over(chance / (1.0 - chance))
    weights[0] = 0.0  # a machine is brought in for a reason; "normal" is a fault of its own
    return normalised(to_log(weights), what="this machine")


def fits(needs: Mapping[str, str], features: Mapping[str, str]) -> bool:
    """Whether something that needs these features can be on a machine of which these are told."""
    return all(features.get(feature, value) == value for feature, value in needs.items())


def within_reach(
    entry: CheckEntry | RepairEntry, people: int, tools: tuple[str, ...] | None
) -> bool:
    """Whether the workshop has the hands and the tools for it."""
    return entry.people <= people and (tools is None or set(entry.tools) <= set(tools))


def works_under(base: Base, work: Sequence[RepairEntry]) -> Floats:
    """(H,): under each set of faults, the chance that this work leaves none of them."""
    sound = np.array([float(not faults) for faults in base.hypotheses.sets])
    for entry in reversed(work):
        sound = mean_after(sound, base.moves[entry.id])
    return np.asarray(np.clip(sound, 0.0, 1.0))
