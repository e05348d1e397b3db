"""What a machine does in a spin, as page and API tell it: sentences, figures, settings."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

from counterpoise.dynamics.answers.summary import HeaviestItem, SpinSummary
from counterpoise.dynamics.answers.what_if import (
    Case,
    WhatIf,
    case_sentences,
    fault_words,
    run_cases,
)
from counterpoise.dynamics.machines.families import family
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.report.languages import tongue
from counterpoise.report.views.machine_figures import NOTHING, OwnMachine
from counterpoise.report.words.machine_figures import VALUE_WORDS

# a bench machine has few cores, and matplotlib's drawing settings are shared between threads
_one_at_a_time = Lock()
_KNOWN_WORDS = {"usual": "usual for its kind", "typed": "as typed"}


@dataclass(frozen=True, slots=True)
class TwinMachine:
    """One machine: its fault in words, the suspects it stands for, sentences, figures behind them.

    ``heaviest_item`` is None where it was not looked for.
    """

    key: str
    words: str
    suspected: tuple[str, ...]
    # the sentences are made of the figures; programs want the figures
    sentences: tuple[str, ...]
    answers: SpinSummary
    heaviest_item: HeaviestItem | None


@dataclass(frozen=True, slots=True)
class FaultChoice:
    """A fault that the machine can have."""

    key: str
    words: str
    # the page ticks what was asked for
    chosen: bool


@dataclass(frozen=True, slots=True)
class TwinValue:
    """A figure of the machine in SI, with the family's default, range and source.

    ``origin`` says where the value is from: ``usual`` for its kind, ``typed``, or ``job``;
    ``known`` says the same in words. ``given`` is False for the usual one.
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
    # where the default is from, so that nobody takes an estimate for a measurement
    source: str


@dataclass(frozen=True, slots=True)
class TwinAnswer:
    """The sound machine first, then the same one with each fault; masses in kg, speeds in rpm.

    ``depth`` is the place of the unbalance, 0 at the hub to 1 at the opening; ``point_m`` the place
    on the top panel, right and rear of its middle; ``full_load_kg`` None where it is not known.
    """

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
    # of a job: what had to be assumed, said beside what was reckoned from it
    taken_as: str = ""
    point_m: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure as an image address that needs no second request, and its words."""

    words: str
    address: str


# a page, its figures and its JSON ask the same within seconds
@lru_cache(maxsize=6)
def _cases(question: WhatIf) -> tuple[Case, ...]:
    return run_cases(question, heaviest=True)


def simulated(question: WhatIf) -> tuple[Case, ...]:
    """The machines of a question, spun once for page, figures and API. Raises InputError."""
    with _one_at_a_time:
        return _cases(question)


def twin_answer(
    question: WhatIf,
    names: Mapping[str, tuple[str, ...]] | None = None,
    own: OwnMachine = NOTHING,
) -> TwinAnswer:
    """Spin the machines and tell what they do; ``names`` are the suspects by fault.

    Raises InputError where no machine can have these figures together.
    """
    # the slow part: some seconds of reckoning, kept for page, figures and API
    cases = simulated(question)
    sound = cases[0]
    return TwinAnswer(
        family=question.family,
        unbalance_kg=question.unbalance_kg,
        depth=question.depth,
        load_kg=question.load_kg,
        top_rpm=sound.study.machine.top_rpm,
        machines=tuple(_machine(case, sound, (names or {}).get(case.key, ())) for case in cases),
        faults=_fault_choices(sound.study.machine, question.faults),
        values=_values(question, own),
        # said only where the job's own top speed is what was reckoned with
        top_rpm_known=own.words.get("top_rpm", "") if question.top_rpm == own.top_rpm else "",
        full_load_kg=own.full_load_kg,
        point_m=(question.phone.x_m, question.phone.y_m),
    )


def _machine(case: Case, sound: Case, suspects: tuple[str, ...]) -> TwinMachine:
    sentences = tuple(case_sentences(case, sound))
    return TwinMachine(case.key, case.words, suspects, sentences, case.study.summary, case.heaviest)


def _fault_choices(machine: Machine, chosen: tuple[str, ...]) -> tuple[FaultChoice, ...]:
    listed = [
        FaultChoice(key, fault.words, key in chosen)
        for key, fault in FAULTS.items()
        if applies(machine, key)
    ]
    # a fault with a severity, or several joined by +, is no single key; it stays chosen too
    composed = [FaultChoice(key, fault_words(key), True) for key in chosen if key not in FAULTS]
    return (*listed, *composed)


def _values(question: WhatIf, own: OwnMachine) -> tuple[TwinValue, ...]:
    given = dict(question.values)
    # what is typed over a figure of the job is typed, not known
    held = own.values(question.family, {})

    def origin(name: str) -> str:
        if name not in given:
            return "usual"
        return "job" if held.get(name) == given[name] else "typed"

    return tuple(
        TwinValue(
            name=name,
            words=VALUE_WORDS[name],
            value=given.get(name, value.default),
            given=name in given,
            origin=origin(name),
            known=_KNOWN_WORDS.get(origin(name)) or own.words[name],
            default=value.default,
            low=value.low,
            high=value.high,
            unit=value.unit,
            source=value.source,
        )
        for name, value in family(question.family).values.items()
    )


def pictures(question: WhatIf) -> tuple[Picture, ...]:
    """The three figures of a question: the tub's path, shake against speed, the feet.

    Raises InputError where no machine can have these figures together.
    """
    return _pictures(question, tongue.reader())


# the language is part of what is asked: letters stand in a figure
@lru_cache(maxsize=12)
def _pictures(question: WhatIf, _reader: str) -> tuple[Picture, ...]:
    # plotting takes a moment to load; the API needs none of it
    from counterpoise.report.figures.dynamics import feet_figure, path_figure, speed_figure, svg

    studies = {case.words: case.study for case in simulated(question)}
    drawings = (
        ("The path of the tub inside the room it has, seen along the drum's axis", path_figure),
        ("Shake of the top panel at once a turn, against drum speed", speed_figure),
        (
            "Least load on the worst foot, against drum speed; at zero it is off the floor",
            feet_figure,
        ),
    )
    pictures = []
    # one at a time: drawing is not safe in threads
    for words, build_figure in drawings:
        with _one_at_a_time:
            drawn = svg(build_figure(studies))
        address = "data:image/svg+xml;base64," + base64.b64encode(drawn).decode()
        pictures.append(Picture(words, address))
    return tuple(pictures)
