"""A what-if: the sound machine first, then the same one with each fault.

Terminal and page both put their question this way, so that both give the same answer.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from counterpoise.dynamics.answers.changes import changes
from counterpoise.dynamics.answers.sentences import heaviest_words, summary_sentences
from counterpoise.dynamics.answers.summary import (
    HeaviestItem,
    SpinStudy,
    heaviest_item,
    study_spin,
)
from counterpoise.dynamics.effects.table import showing_kg
from counterpoise.dynamics.machines.families import FAMILIES, build
from counterpoise.dynamics.machines.faults import FAULTS, with_fault
from counterpoise.dynamics.machines.machine import Load, Machine
from counterpoise.dynamics.motion.check import TOP_RPM
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

# Key and word of the machine without a fault.
SOUND = "sound"
# Slower than this no machine spins.
SLOWEST_RPM = 100.0
# Between what the table bears out and the figures of one machine, which others may not share.
ONE_MACHINE = "What follows is reckoned for this one machine; another may do otherwise."
# no tub is lighter
LEAST_TUB_KG = 2.0


@dataclass(frozen=True)
class WhatIf:
    """A machine and what may be wrong with it.

    ``values`` are family values that are known (SI, by name); ``top_rpm`` None: the family's.
    ``depth`` is the place of the unbalance, 0 at the hub to 1 at the opening. ``faults`` are
    written KEY[:SEVERITY[:PART]], several at once joined by +.
    """

    family: str = next(iter(FAMILIES))
    # pairs and not a mapping: a question is a key of the page's memory
    values: tuple[tuple[str, float], ...] = ()
    top_rpm: float | None = None
    load_kg: float = 0.0
    # a wet towel that did not spread (estimate)
    unbalance_kg: float = 0.3
    depth: float = 0.5
    faults: tuple[str, ...] = ()
    phone: Phone = field(default_factory=Phone)


@dataclass(frozen=True)
class Case:
    """One machine of a what-if: key (``sound`` or the fault), words, curves, heaviest thing, kg."""

    key: str
    words: str
    study: SpinStudy
    heaviest: HeaviestItem | None = None


def finite_number(text: str, what: str, example: str = "9000") -> float:
    """Read a finite number. Raises InputError that names ``what`` and shows an example."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    # float() takes "nan" and "inf", which no machine has
    if not math.isfinite(value):
        raise InputError(
            f"{text!r} is no number", field=what, remedy=f"write {what} like {example}"
        )
    return value


def with_faults(machine: Machine, text: str) -> Machine:
    """Apply KEY[:SEVERITY[:PART]], several joined by +. Raises InputError for what cannot be."""
    for fault in text.split("+"):
        key, *figures = fault.split(":")
        if len(figures) > 2:
            raise InputError(
                f"{fault!r} has more than a severity and a part",
                field="fault",
                remedy="write it like short_foot:0.5:2",
            )
        severity = finite_number(figures[0], "severity", "0.5") if figures else 1.0
        part = finite_number(figures[1], "part", "1") if len(figures) > 1 else 0.0
        # the second spring is part 1: there is no part 1.5
        if part != int(part):
            raise InputError(f"part {part:g}", field="part", remedy="write a whole number like 1")
        machine = with_fault(machine, key, severity, int(part))
    return machine


def fault_words(text: str) -> str:
    """Plain words of a fault as it was asked for, like ``one foot short and floor gives``."""
    if text == SOUND:
        return SOUND
    return " and ".join(_one_fault_words(fault) for fault in text.split("+"))


def _one_fault_words(fault: str) -> str:
    """Words of one KEY[:SEVERITY[:PART]]; a severity below the gross form is said."""
    key, *figures = fault.split(":")
    severity = float(figures[0]) if figures else 1.0
    extent = f", {100 * severity:.0f} % of the gross form" if severity < 1.0 else ""
    return FAULTS[key].words + extent


def shown_kg(family: str, values: Mapping[str, float], faults: Sequence[str]) -> float:
    """What to put out of balance where nobody said how much: what shows the first fault, in kg.

    Raises InputError for values that no machine has.
    """
    # a machine in good order, or a fault that no load shows, is spun with the usual towel
    dampers = len(build(family, values).dampers) if faults else 0
    for fault in faults:
        kg = showing_kg(family, fault, dampers)
        if kg is not None:
            return kg
    return WhatIf().unbalance_kg


def case_machines(what_if: WhatIf) -> dict[str, Machine]:
    """The sound machine and one for each fault, by key.

    Raises InputError for what no machine of the family can be.
    """
    if what_if.top_rpm is not None and not SLOWEST_RPM <= what_if.top_rpm <= TOP_RPM:
        raise InputError(
            f"a top speed of {what_if.top_rpm:g} rpm is beyond the model: drum and panels bend "
            "above, and below nothing spins",
            field="top_rpm",
            remedy=f"{SLOWEST_RPM:g} to {TOP_RPM:g} rpm is valid",
        )
    base = build(what_if.family, dict(what_if.values))
    # Each figure can be in its range and their sum still leave nothing for the tub itself.
    if base.tub.mass_kg < LEAST_TUB_KG:
        parts = sum(w.mass_kg for w in base.tub.weights) + base.drum.mass_kg
        raise InputError(
            f"{parts + base.tub.mass_kg:g} kg hang on the springs, of which weights and drum are "
            f"{parts:g} kg",
            field="oscillating_kg",
            remedy=f"at least {parts + LEAST_TUB_KG:g} kg must hang, or the weights be lighter",
        )
    base = replace(base, top_rpm=what_if.top_rpm or base.top_rpm, load=Load(what_if.load_kg))
    sound = base.with_unbalance(what_if.unbalance_kg, what_if.depth, laundry=False)
    return {SOUND: sound} | {fault: with_faults(sound, fault) for fault in what_if.faults}


def run_cases(what_if: WhatIf, *, heaviest: bool = False) -> tuple[Case, ...]:
    """Spin every machine: half a second each, and as much again for the heaviest single thing.

    The sound machine comes first. Raises InputError for what no machine of the family can be.
    """
    # The sound machine is spun even where only faults were asked for: each is told beside it.
    return tuple(
        Case(
            key,
            fault_words(key),
            study_spin(machine, what_if.phone),
            heaviest_item(machine) if heaviest else None,
        )
        for key, machine in case_machines(what_if).items()
    )


def case_sentences(case: Case, sound: Case) -> list[str]:
    """What the fault changes, what the machine does, the heaviest thing it bears, as sentences."""
    changed = [changes(case.key, sound.study, case.study), ONE_MACHINE] if case.key != SOUND else []
    heaviest = [heaviest_words(case.heaviest)] if case.heaviest else []
    return [*changed, *summary_sentences(case.study.summary), *heaviest]
