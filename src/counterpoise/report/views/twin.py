"""What a machine does in a spin, as page and API tell it: sentences, figures, and what can be set."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

from counterpoise.catalog.family import Family
from counterpoise.dynamics.answers.summary import HeaviestItem, SpinSummary
from counterpoise.dynamics.answers.what_if import (
    Case,
    WhatIf,
    case_sentences,
    fault_words,
    run_cases,
)
from counterpoise.dynamics.machines.families import FAMILIES, build, family
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.machines.value import Value
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError
from counterpoise.report.views.job import JobView
from counterpoise.report.views.machine_figures import NOTHING, OwnMachine
from counterpoise.report.words.machine_figures import FAMILY_WORDS, VALUE_WORDS
from counterpoise.report.words.numbers import read_number
from counterpoise.workshop.jobs.entries import Job

MOST_FAULTS = 3  # the figures tell four lines apart
# the model itself refuses speeds, with the reason
LIMITS = {"unbalance": (0.0, 5.0), "load": (0.0, 20.0), "depth": (0.0, 1.0), "top_rpm": (-1e6, 1e6),
          "point_x": (-0.3, 0.3), "point_y": (-0.3, 0.3)}  # fmt: skip
_one_at_a_time = Lock()  # a bench machine has few cores, and the drawing settings are shared


@dataclass(frozen=True, slots=True)
class TwinMachine:
    """One machine: its fault in words, whom it is suspected for, sentences, and the figures behind them."""

    key: str
    words: str
    suspected: tuple[str, ...]
    sentences: tuple[str, ...]
    answers: SpinSummary
    heaviest_item: HeaviestItem | None


@dataclass(frozen=True, slots=True)
class FaultChoice:
    """A fault that the machine can have."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class TwinValue:
    """A figure of the machine, in SI: as reckoned with, the family's default and range, where they are from.

    ``origin`` says where the value is from: ``usual`` for its kind, ``typed``, or ``job``; ``known`` the same in words.
    """

    name: str
    words: str
    value: float
    given: bool
    origin: str
    known: str
    default: float
    low: float
    high: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class TwinAnswer:
    """The sound machine first, then the same one with each fault."""

    family: str
    unbalance_kg: float
    depth: float
    load_kg: float
    top_rpm: float
    machines: tuple[TwinMachine, ...]
    faults: tuple[FaultChoice, ...]
    values: tuple[TwinValue, ...]
    top_rpm_known: str = ""
    full_load_kg: float | None = None
    taken_as: str = ""
    point_m: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure as an image address that needs no second request, and its words."""

    words: str
    address: str


def read_question(
    key: str, texts: Mapping[str, str], faults: tuple[str, ...], own: OwnMachine = NOTHING
) -> WhatIf:
    """Read what was typed; an empty field means what the job holds, else the family's own figure.

    Raises InputError naming the field.
    """
    values = {
        name: value for name, value in family(key).values.items() if texts.get(name, "").strip()
    }
    unknown = sorted(
        name for name in texts if name not in LIMITS and name not in family(key).values
    )
    if unknown:
        raise InputError(
            f"{unknown[0]} is no figure of this kind of machine",
            field=unknown[0],
            remedy=f"One of {', '.join(family(key).values)}.",
        )
    if len(faults) > MOST_FAULTS:
        raise InputError(
            f"{len(faults)} faults side by side are too many",
            field="fault",
            remedy=f"Pick up to {MOST_FAULTS}.",
        )
    read = {
        name: read_number(texts[name], name, *LIMITS[name])
        for name in LIMITS
        if texts.get(name, "").strip()
    }
    plain = WhatIf()
    typed = {name: read_value(name, texts[name], value) for name, value in values.items()}
    return WhatIf(
        key,
        tuple((own.values(key, typed) | typed).items()),
        top_rpm=read.get("top_rpm", own.top_rpm),
        load_kg=read.get("load", plain.load_kg),
        unbalance_kg=read.get("unbalance", plain.unbalance_kg),
        depth=read.get("depth", plain.depth),
        faults=tuple(dict.fromkeys(faults)),
        phone=Phone(read.get("point_x", 0.0), read.get("point_y", 0.0)),
    )


def read_value(name: str, text: str, value: Value) -> float:
    """A family value as typed; pieces come whole."""
    try:
        number = read_number(text, VALUE_WORDS[name], value.low, value.high)
    except InputError as error:
        raise InputError(error.message, field=name, remedy=error.remedy) from error
    if value.whole and number != int(number):
        raise InputError(
            f"{VALUE_WORDS[name]}: {number:g} pieces", field=name, remedy="Give a whole number."
        )
    return number


def suspected_faults(view: JobView, key: str) -> dict[str, tuple[str, ...]]:
    """Mechanical faults that the job's leading suspects amount to, likeliest first, with the suspects' names."""
    machine, found = build(key), dict[str, tuple[str, ...]]()
    for suspect in view.assessment.suspects:
        entry = view.family.faults.get(suspect.fault)
        twin = entry.twin if entry else None
        if twin in FAULTS and twin and applies(machine, twin):
            found[twin] = (*found.get(twin, ()), suspect.title)
    return dict(list(found.items())[:MOST_FAULTS])


@lru_cache(maxsize=6)
def _cases(question: WhatIf) -> tuple[Case, ...]:
    return run_cases(question, heaviest=True)


def simulated(question: WhatIf) -> tuple[Case, ...]:
    """The machines of a question, spun once for page and API."""
    with _one_at_a_time:
        return _cases(question)


def twin_answer(
    question: WhatIf,
    names: Mapping[str, tuple[str, ...]] | None = None,
    own: OwnMachine = NOTHING,
) -> TwinAnswer:
    """Spin the machines and tell what they do. ``names`` are the suspects by fault. Raises InputError."""
    cases = simulated(question)
    sound = cases[0].study.machine
    return TwinAnswer(
        family=question.family,
        unbalance_kg=question.unbalance_kg,
        depth=question.depth,
        load_kg=question.load_kg,
        top_rpm=sound.top_rpm,
        machines=tuple(_told(case, cases[0], (names or {}).get(case.key, ())) for case in cases),
        faults=_choices(sound, question.faults),
        values=_values(question, own),
        top_rpm_known=own.words.get("top_rpm", "") if question.top_rpm == own.top_rpm else "",
        full_load_kg=own.full_load_kg,
        point_m=(question.phone.x_m, question.phone.y_m),
    )


def _told(case: Case, sound: Case, names: tuple[str, ...]) -> TwinMachine:
    said = tuple(case_sentences(case, sound))
    return TwinMachine(case.key, case.words, names, said, case.study.summary, case.heaviest)


def _choices(machine: Machine, chosen: tuple[str, ...]) -> tuple[FaultChoice, ...]:
    listed = [
        FaultChoice(k, fault.words, k in chosen)
        for k, fault in FAULTS.items()
        if applies(machine, k)
    ]
    return (*listed, *(FaultChoice(k, fault_words(k), True) for k in chosen if k not in FAULTS))


def _values(question: WhatIf, own: OwnMachine) -> tuple[TwinValue, ...]:
    given = dict(question.values)
    held = own.values(question.family, {})

    def origin(name: str) -> str:
        if name not in given:
            return "usual"
        return "job" if held.get(name) == given[name] else "typed"

    return tuple(
        TwinValue(
            name,
            VALUE_WORDS[name],
            given.get(name, v.default),
            name in given,
            origin(name),
            {"usual": "usual for its kind", "typed": "as typed"}.get(origin(name))
            or own.words[name],
            v.default,
            v.low,
            v.high,
            v.unit,
            v.source,
        )
        for name, v in family(question.family).values.items()
    )


@lru_cache(maxsize=12)
def pictures(question: WhatIf) -> tuple[Picture, ...]:
    """The three figures of a question: the tub's path, shake against speed, the feet."""
    from counterpoise.report.figures.dynamics import feet_figure, path_figure, speed_figure, svg

    studies = {case.words: case.study for case in simulated(question)}
    out = []
    for words, build_figure in (
        ("The path of the tub inside the room it has, seen along the drum's axis", path_figure),
        ("Shake of the top panel at once a turn, against drum speed", speed_figure),
        (
            "Least load on the worst foot, against drum speed; at zero it is off the floor",
            feet_figure,
        ),
    ):
        with _one_at_a_time:
            drawn = svg(build_figure(studies))
        out.append(Picture(words, "data:image/svg+xml;base64," + base64.b64encode(drawn).decode()))
    return tuple(out)


def model_kind(view: JobView) -> str:
    """The model's kind for a job's machine. Raises InputError where there is none."""
    return model_kind_of(view.job, view.family)


def assumptions(view: JobView) -> str:
    """What had to be assumed of the machine, in a sentence; empty where all that matters is known."""
    has = view.job.intake.features
    open_ones = [(name, value) for name, value in view.family.twin_needs.items() if name not in has]
    told = "; ".join(
        f"{view.family.features[n].title} {view.family.features[n].values[v]}" for n, v in open_ones
    )
    return (
        f"Not put down, so taken for granted: {told}. Of the other sort there is no model."
        if told
        else ""
    )


def model_kind_of(job: Job, family: Family) -> str:
    """The model's kind for a job's machine. Raises InputError where there is none, with the reason."""
    has, needs = job.intake.features, family.twin_needs
    for name in family.features_against(has, needs):
        feature = family.features[name]
        raise InputError(
            f"{feature.title} {feature.values[has[name]]}: there is no model in motion of such a machine, only of one "
            f"with {feature.values[needs[name]]!r}",
            field="features",
            remedy="Go back to the bench; if it is down wrong, correct the intake.",
        )
    if family.id not in FAMILIES:
        raise InputError(
            f"There is no model in motion of a {family.title.lower()}",
            field="family",
            remedy="Go back to the bench.",
        )
    return family.id


KINDS = tuple((key, FAMILY_WORDS[key]) for key in FAMILIES)
