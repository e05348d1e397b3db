"""A question to the machine as physics, and its answer: the sound machine first, then the same one with each fault.

Terminal and page both put their question this way, so that both give the same answer.
"""

import math
from dataclasses import dataclass, field, replace

from counterpoise.dynamics.answers.sentences import compare, heaviest_words, tell
from counterpoise.dynamics.answers.summary import Heaviest, Study, heaviest_item, study
from counterpoise.dynamics.machines.families import build
from counterpoise.dynamics.machines.faults import FAULTS, with_fault
from counterpoise.dynamics.machines.machine import Load, Machine
from counterpoise.dynamics.motion.check import TOP_RPM
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

SOUND = "sound"
SLOWEST_RPM = 100.0
LEAST_TUB_KG = 2.0  # no tub is lighter


@dataclass(frozen=True)
class Question:
    """A machine and what may be wrong with it.

    ``values`` are family values that are known (SI, by name); ``top_rpm`` None: the family's. ``depth`` is the place of
    the unbalance, 0 at the hub to 1 at the opening. ``faults`` are written KEY[:SEVERITY[:PART]], several at once
    joined by +.
    """

    family: str = "front_loader"
    values: tuple[tuple[str, float], ...] = ()
    top_rpm: float | None = None
    load_kg: float = 0.0
    unbalance_kg: float = 0.3
    depth: float = 0.5
    faults: tuple[str, ...] = ()
    phone: Phone = field(default_factory=Phone)


@dataclass(frozen=True)
class Case:
    """One machine of the answer: its key (``sound`` or the fault), plain words, curves, heaviest single thing."""

    key: str
    words: str
    study: Study
    heaviest: Heaviest | None = None


def number(text: str, what: str) -> float:
    """Read a finite number, or say which one is none."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{text!r} is no number", field=what, remedy=f"write {what} like 9000")
    return value


def faulted(machine: Machine, text: str) -> Machine:
    """Apply KEY[:SEVERITY[:PART]], several joined by +."""
    for one in text.split("+"):
        key, *rest = one.split(":")
        severity = number(rest[0], "severity") if rest else 1.0
        part = int(number(rest[1], "part")) if len(rest) > 1 else 0
        machine = with_fault(machine, key, severity, part)
    return machine


def in_words(text: str) -> str:
    """Plain words of a fault as it was asked for."""
    return (
        " and ".join(FAULTS[one.split(":")[0]].words for one in text.split("+"))
        if text != SOUND
        else SOUND
    )


def machines(question: Question) -> dict[str, Machine]:
    """The sound machine and one for each fault. Raises InputError for what no machine of the family can be."""
    if question.top_rpm is not None and not SLOWEST_RPM <= question.top_rpm <= TOP_RPM:
        raise InputError(
            f"a top speed of {question.top_rpm:g} rpm is beyond the model: drum and panels bend above, "
            "and below nothing spins",
            field="top_rpm",
            remedy=f"{SLOWEST_RPM:g} to {TOP_RPM:g} rpm is valid",
        )
    base = build(question.family, dict(question.values))
    if base.tub.mass_kg < LEAST_TUB_KG:
        rest = sum(w.mass_kg for w in base.tub.weights) + base.drum.mass_kg
        raise InputError(
            f"{rest + base.tub.mass_kg:g} kg hang on the springs, of which weights and drum are {rest:g} kg",
            field="oscillating_kg",
            remedy=f"at least {rest + LEAST_TUB_KG:g} kg must hang, or the weights be lighter",
        )
    base = replace(base, top_rpm=question.top_rpm or base.top_rpm, load=Load(question.load_kg))
    sound = base.with_unbalance(question.unbalance_kg, question.depth, laundry=False)
    return {SOUND: sound} | {fault: faulted(sound, fault) for fault in question.faults}


def answered(question: Question, *, heaviest: bool = False) -> tuple[Case, ...]:
    """Spin every machine of the question; about half a second each, and as much again for the heaviest thing."""
    return tuple(
        Case(
            key,
            in_words(key),
            study(machine, question.phone),
            heaviest_item(machine) if heaviest else None,
        )
        for key, machine in machines(question).items()
    )


def sentences(case: Case, sound: Case) -> list[str]:
    """One machine in plain words: what the fault changes, what the machine does, the heaviest thing it bears."""
    changed = [compare(sound.study.answers, case.study.answers)] if case.key != SOUND else []
    heaviest = [heaviest_words(case.heaviest)] if case.heaviest else []
    return [*changed, *tell(case.study.answers), *heaviest]
