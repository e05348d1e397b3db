"""Rules of the figures: every fault can be heard of, told and cured, and the chances add up."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from counterpoise.catalog.check_parts import RECORDING
from counterpoise.catalog.rules.rule import Broken, Rule, fault_keys, places

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

# The changes that the machine as physics knows, by name. Written out, since asking it brings the
# compiler in; a test holds the two together.
TWINS = frozenset(
    {
        "damper_dead",
        "two_dampers_dead",
        "damper_weak",
        "dampers_gone",
        "spring_off",
        "spring_tired",
        "counterweight_lost",
        "counterweight_loose",
        "drum_support_cracked",
        "bearing_worn",
        "transit_bolts",
        "short_foot",
        "soft_floor",
        "slippery_floor",
        "not_level",
        "heavy_load",
        "overload",
        "bellows_torn",
        "ring_empty",
    }
)
# Mean number of faults of a machine brought in: few have two (from memory).
FEWEST, MOST = 1.0, 1.5
# Chances of hearing any complaint, added up: a fault that nobody complains of never comes in.
HEARD = 0.2
_SUM = "the priors, by the machines that can have the fault, sum to {:.2f}"
LONGEST_STEP = 220  # characters; more is not read at a bench


def _told_once(family: Family) -> Iterator[Broken]:
    for fault, key in fault_keys(family):
        telling = [check.id for check in family.checks.values() if key in check.under]
        if len(telling) < 2:
            yield ("faults", fault), f"{key} is told by {len(telling)} checks"


def _not_told_from_outside(family: Family) -> Iterator[Broken]:
    free = [check for check in family.checks.values() if check.access is None]
    for fault, key in fault_keys(family):
        if not any(key in check.under for check in free):
            yield ("faults", fault), f"no check that opens nothing speaks for {key}"


def _cured_on_some_only(family: Family) -> Iterator[Broken]:
    for fault, key in fault_keys(family):
        needs = family.faults[fault].needs.items()
        cures = [repair for repair in family.repairs.values() if key in repair.cures]
        if not any(repair.needs.items() <= needs for repair in cures):
            text = f"{key} is cured by no repair that every machine with it can have"
            yield ("faults", fault), text


def _not_complained_of(family: Family) -> Iterator[Broken]:
    for fault in family.faults.values():
        for key in fault.keys:
            if sum(fault.complaints.get(key, {}).values()) <= HEARD:
                yield ("faults", fault.id, "complaints"), f"hardly anybody complains of {key}"


def _mean_count(family: Family) -> float:
    """Mean number of faults of a machine that comes in, by the machines that can have each."""
    mean = 0.0
    for fault in family.faults.values():
        fit = 1.0
        for feature, value in fault.needs.items():
            fit *= family.features[feature].share[value]
        mean += fault.prior * fit
    return mean


def _too_many(family: Family) -> Iterator[Broken]:
    mean = _mean_count(family)
    if mean > MOST:
        yield ("faults",), _SUM.format(mean)


def _too_few(family: Family) -> Iterator[Broken]:
    mean = _mean_count(family)
    if mean < FEWEST:
        yield ("faults",), _SUM.format(mean)


def _says_nothing(family: Family) -> Iterator[Broken]:
    for check in family.checks.values():
        mildest = next(iter(check.outcomes))
        for key, row in check.under.items():
            if set(row) == {mildest}:
                text = f"the row of {key} names only {mildest}, the mildest answer"
                yield ("checks", check.id, "under"), text


def _unknown_twin(family: Family) -> Iterator[Broken]:
    for fault in family.faults.values():
        states = {fault.twin_of(key) for key in fault.keys} - {None}
        for state in sorted(str(state) for state in states):
            name = state.partition(":")[0]
            if name not in TWINS:
                yield ("faults", fault.id), f"the physics know no change {name}"


def _unknown_group(family: Family) -> Iterator[Broken]:
    check = family.checks.get(RECORDING)
    known = list(check.outcomes) if check else []
    for fault in family.faults.values():
        if fault.spin_group is not None and fault.spin_group not in known:
            said = f"a recording tells {', '.join(known)}" if known else "there is no recording"
            text = f"there is no group {fault.spin_group}: {said}"
            yield ("faults", fault.id, "spin_group"), text


def _long_steps(family: Family) -> Iterator[Broken]:
    for section, entry in places(family):
        if not entry.steps:
            yield (section, entry.id), "it has no steps"
        for number, step in enumerate(entry.steps):
            if len(step) > LONGEST_STEP or not step.rstrip().endswith((".", "?")):
                text = f"step {number + 1} is long, or no sentence"
                yield (section, entry.id, "steps"), text


RULES = (
    Rule(
        "told_twice",
        "shipped",
        "Each fault is told by two checks.",
        "add a row for it to another check",
        _told_once,
    ),
    Rule(
        "told_from_outside",
        "shipped",
        "Each fault is told by a check that opens nothing.",
        "add a row to a question, a look from outside or a run",
        _not_told_from_outside,
    ),
    Rule(
        "cured_everywhere",
        "shipped",
        "Each fault is cured by a repair that every machine with it can have.",
        "add a repair without 'needs', or with those of the fault",
        _cured_on_some_only,
    ),
    Rule(
        "complained_of",
        "shipped",
        "The chances of the complaints of each fault sum to more than 0.2.",
        "say what its owner hears or sees",
        _not_complained_of,
    ),
    Rule(
        "few_at_once",
        "warning",
        "The priors sum to no more than 1.5: few machines have two faults.",
        "scale the priors: each is a share of the machines brought in",
        _too_many,
    ),
    Rule(
        "all_accounted_for",
        "shipped",
        "The priors sum to at least 1.0: a machine that comes in has something.",
        "add what is missing, or scale the priors",
        _too_few,
    ),
    Rule(
        "rows_say_something",
        "warning",
        "A row under a check names an answer that its fault makes likelier, not the mildest alone.",
        "name what this fault shows; what a row leaves over is the mildest answer",
        _says_nothing,
    ),
    Rule(
        "known_twin",
        "mistake",
        "`twin` and `twins` name a change that the machine as physics knows.",
        "name one of docs/dynamics.md, or leave it out",
        _unknown_twin,
    ),
    Rule(
        "known_spin_group",
        "mistake",
        f"`spin_group` names an outcome of the check `{RECORDING}`.",
        "name one of its outcomes, or leave it out",
        _unknown_group,
    ),
    Rule(
        "plain_steps",
        "shipped",
        f"Steps are there, sentences, and at most {LONGEST_STEP} characters long.",
        "write it in two short sentences",
        _long_steps,
    ),
)
