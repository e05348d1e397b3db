"""A family of machines laid out for reasoning: sets of faults, what checks show and repairs do."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, wraps
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry, SameThing
from counterpoise.catalog.priors import odds_scale
from counterpoise.reasoning.belief import (
    Transition,
    marginals,
    mean_after,
)
from counterpoise.reasoning.evidence import next_reading
from counterpoise.reasoning.hypotheses import Floats, Hypotheses
from counterpoise.reasoning.model import Check, Fault, Repair
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds, kinds_of
from counterpoise.workshop.diagnosis.kinds.prior import company_of, joint_prior_over
from counterpoise.workshop.diagnosis.kinds.remembered import Remembered
from counterpoise.workshop.diagnosis.proof_spin import ProofSpin
from counterpoise.workshop.diagnosis.shared_layout.parts import (
    ANY_SLIP,
    MISREADING,
    moves_of,
    sets_of,
    slips_among,
    table_of,
    with_misreading,
)

Result = TypeVar("Result")
# Four faults at once are so rare that they would cost memory and time for no better advice.
MAX_FAULTS = 3
# Between a fault and the first kind of machine in which it is as it is, where kinds differ.
BY_KIND = "@"
# Share of what a check shows that is shown again when it is repeated, by kind (from memory): the
# same owner says the same, the same crack is seen again; each spin throws the load anew.
SAME_AGAIN = {"ask": 0.9, "look": 0.9, "feel": 0.8, "measure": 0.8, "spin": 0.3}
# Every machine in hand is of one of a few families; a study adds one perturbed family a block.
_FAMILIES_KEPT = 8


@dataclass(frozen=True)
class FamilyModel:
    """What holds for every machine of a family, in arrays over its H sets of faults.

    ``slips`` holds (O,) by check id, the chance that each outcome is put down by a slip.
    ``tables`` holds (O, H) chances of each outcome by check id, where the machine has what is
    looked at and it is done first of all checks that look at the same thing; ``trusted`` the same
    if nothing leads them astray. ``complaints`` holds (H,) chances of hearing each complaint,
    ``fault_of`` (F,) the fault of a key. ``background`` (H,) is a machine of the family of which
    nothing is known, ``company`` (H,) the factor on the odds of sets for faults that come together.
    """

    family: Family
    hypotheses: Hypotheses
    fault_of: tuple[str, ...]
    # as the planner takes them, without costs, which depend on the workshop
    checks: Mapping[str, Check]
    repairs: Mapping[str, Repair]
    slips: Mapping[str, Floats]
    tables: Mapping[str, Floats]
    trusted: Mapping[str, Floats]
    transitions: Mapping[str, Transition]
    complaints: Mapping[str, Floats]
    proof: ProofSpin
    background: Floats
    company: Floats

    def thing_of(self, check: str) -> SameThing | None:
        """What a check looks at with others, None where no other looks at it."""
        return next((t for t in self.family.same_thing.values() if check in t.checks), None)

    @property
    def account(self) -> SameThing | None:
        """What the complaint belongs to, None where it stands alone."""
        return next((t for t in self.family.same_thing.values() if t.complaints), None)

    @cached_property
    def sound(self) -> NDArray[np.bool_]:
        """(H,) whether the set of faults is empty."""
        return np.array([not faults for faults in self.hypotheses.sets])

    def mask(self, fault_id: str, hypotheses: Hypotheses | None = None) -> NDArray[np.bool_]:
        """(H,) whether a fault, of any grade, is in each set.

        ``hypotheses``: other sets of the same faults, as a plan over the likeliest ones has.
        """
        sets = self.hypotheses if hypotheses is None else hypotheses
        # a set with any grade of the fault has the fault, whatever the kind of machine
        columns = _columns_of(sets.fault_ids).get(fault_id, [])
        return np.asarray(sets.present[:, columns].any(axis=1))

    @cached_property
    def remembered(self) -> Remembered:
        """What was worked out of this family by age and kind of machine; gone with it."""
        return Remembered()

    @cached_property
    def odds_scale(self) -> float:
        """The factor on the odds of the family's faults."""
        return odds_scale(self.family)

    def key_chances(self, probabilities: Floats) -> dict[str, float]:
        """Chance of each fault key (a fault, or one grade of it) under ``probabilities`` (H,)."""
        chances = marginals(probabilities, self.hypotheses).tolist()
        return dict(zip(self.hypotheses.fault_ids, chances, strict=True))

    def fault_chances(self, probabilities: Floats) -> dict[str, float]:
        """Chance of each fault by its id under ``probabilities`` (H,), the likeliest first.

        Grades exclude each other, so a fault is as likely as its grades together.
        """
        return self.by_fault(self.key_chances(probabilities))

    def by_fault(self, by_key: Mapping[str, float]) -> dict[str, float]:
        """The chances of fault keys as those of the faults, the likeliest first."""
        # summed in the order of the catalog, so that equal chances always rank alike
        faults = self.family.faults.values()
        totals = {fault.id: sum(by_key[key] for key in fault.keys) for fault in faults}
        return dict(sorted(totals.items(), key=lambda pair: -pair[1]))


class _FamilyKey:
    """A family as a cache key by identity: hashing its contents would cost more than it saves."""

    def __init__(self, family: Family) -> None:
        self.family = family

    def __hash__(self) -> int:
        return id(self.family)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _FamilyKey) and other.family is self.family


def cached_by_family(compute: Callable[[Family], Result]) -> Callable[[Family], Result]:
    """Keep what a function computed for the last eight families, told apart by identity."""

    @lru_cache(maxsize=_FAMILIES_KEPT)
    def cached(key: _FamilyKey) -> Result:
        return compute(key.family)

    return wraps(compute)(lambda family: cached(_FamilyKey(family)))


@cached_by_family
def family_model(family: Family) -> FamilyModel:
    """The family laid out for reasoning; takes a moment the first time, then cached."""
    # The prior of a fault depends on age and features, so it is set when a job is replayed.
    faults = tuple(
        Fault(key, 0.5, group=fault.id if fault.grades else None, alone=fault.alone)
        for fault in family.faults.values()
        for key in fault.keys
    )
    checks = {entry.id: reasoning_check(entry) for entry in family.checks.values()}
    repairs = {
        entry.id: Repair(entry.id, 0.0, entry.cures, entry.access, entry.runs)
        for entry in family.repairs.values()
    }
    # "nothing wrong" is set 0: repairs lead there, and that is where a job ends
    hypotheses = sets_of(faults, MAX_FAULTS)
    company = company_of(family, hypotheses)
    anything = joint_prior_over(family, hypotheses, company, None, kinds_of(family, {}))
    background = np.exp(anything).sum(axis=0)
    # most of what laying a family out takes, so shared with families that agree in it; what slips
    # put down hangs on all of a family
    plain = {name: table_of(check, hypotheses) for name, check in checks.items()}
    slips = {
        name: slips_among(table @ background, slip_of(family.checks[name]))
        for name, table in plain.items()
    }
    trusted = {name: with_misreading(table, slips[name]) for name, table in plain.items()}
    everywhere = np.ones(len(background))
    misled = {check: thing.misled for thing in family.same_thing.values() for check in thing.checks}
    return FamilyModel(
        family=family,
        # everything below is in the order of the fault keys of the catalog
        hypotheses=hypotheses,
        fault_of=tuple(fault.id for fault in family.faults.values() for _ in fault.keys),
        checks=checks,
        repairs=repairs,
        slips=slips,
        tables={
            # before any other finding of the same thing, all sets explain what was found alike
            name: next_reading(
                table, np.full(len(background), 1.0 - misled.get(name, 0.0)), everywhere, background
            )
            for name, table in trusted.items()
        },
        trusted=trusted,
        transitions={name: moves_of(repair, hypotheses) for name, repair in repairs.items()},
        complaints={
            name: _complaint_chances(family, name, hypotheses) for name in family.complaints
        },
        proof=ProofSpin.of(family),
        background=background,
        company=company,
    )


def reasoning_check(entry: CheckEntry) -> Check:
    """A catalog check as the planner's model takes it; costs 0 until a problem is built."""
    return Check(
        entry.id,
        0.0,
        tuple(entry.outcomes),
        entry.under,
        entry.otherwise,
        entry.access,
        exclusive=entry.exclusive,
        unordered=entry.unordered,
        # a machine spins with its panels on, upright, its drain trap shut
        shuts=entry.kind == "spin",
        runs=entry.runs,
    )


def slip_of(entry: CheckEntry) -> float:
    """The chance that a finding of this check is read or tapped wrong."""
    return MISREADING if entry.slip is None else entry.slip


def same_again_of(entry: CheckEntry) -> float:
    """The share of what this check shows that is shown again when it is repeated."""
    return SAME_AGAIN[entry.kind] if entry.same_again is None else entry.same_again


def _complaint_chances(family: Family, name: str, hypotheses: Hypotheses) -> Floats:
    """(H,) chance of a complaint: noisy-OR of the faults present, with the complaint's own leak."""
    by_fault = {
        key: by_complaint[name]
        for fault in family.faults.values()
        for key, by_complaint in fault.complaints.items()
        if name in by_complaint
    }
    # each fault present, and the leak, fails to cause the complaint independently
    silent = np.array([1.0 - by_fault.get(key, 0.0) for key in hypotheses.fault_ids])
    return np.asarray(1.0 - (1.0 - family.complaints[name].leak) * hypotheses.product_over(silent))


def fits(needs: Mapping[str, str], features: Mapping[str, str]) -> bool:
    """Whether what needs these features can be on a machine; an unknown one rules nothing out."""
    return all(features.get(feature, value) == value for feature, value in needs.items())


def within_reach(
    entry: CheckEntry | RepairEntry, people: int, tools: tuple[str, ...] | None
) -> bool:
    """Whether the workshop has the hands and the tools for it; ``tools`` None: it has them all."""
    # a bench that has named no tools is not asked for any
    return entry.people <= people and (tools is None or set(entry.tools) <= set(tools))


def works_under(model: FamilyModel, kinds: Kinds, work: Sequence[RepairEntry]) -> Floats:
    """(K, S) chance that this work leaves no fault, by kind and set of faults; within [0, 1].

    A repair that does not fit a machine of some kind does nothing to it.
    """
    no_fault_left = np.array([float(not faults) for faults in model.hypotheses.sets])
    by_kind = np.tile(no_fault_left, (len(kinds.machines), 1))
    # Backwards: the chance of ending sound after the last repair, then before it, and so on.
    for entry in reversed(work):
        for kind in np.flatnonzero(kinds.fit(entry.needs)):
            by_kind[kind] = mean_after(by_kind[kind], model.transitions[entry.id])
    return np.asarray(np.clip(by_kind, 0.0, 1.0))


@lru_cache(maxsize=64)
def _columns_of(fault_ids: tuple[str, ...]) -> Mapping[str, list[int]]:
    """By fault the columns of its grades and kinds."""
    columns: dict[str, list[int]] = {}
    for i, name in enumerate(fault_ids):
        columns.setdefault(fault_of(name), []).append(i)
    return columns


def fault_of(name: str) -> str:
    """The fault of a fault key, or of a fault that the planner tells apart by kind."""
    return name.partition(BY_KIND)[0].partition(":")[0]


# laid out elsewhere, and asked for here
__all__ = ["ANY_SLIP", "MISREADING", "slips_among", "with_misreading"]
