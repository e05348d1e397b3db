"""Readings typed on a page: read with care, understood by the bench, and what they would put down."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from io import BytesIO
from urllib.parse import quote

from counterpoise.bench.cautions import Caution
from counterpoise.bench.evidence import check_readings
from counterpoise.bench.lifting import TippedMachine, tipping
from counterpoise.bench.quantity import Quantity, Result
from counterpoise.bench.readings import Span, possible
from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.errors import InputError, ReadingError
from counterpoise.report.words.numbers import read_number
from counterpoise.workshop.diagnosis.assessment import Step
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.jobs.entries import Body, Finding, Note
from counterpoise.workshop.jobs.finding_checks import outcome_of

_CALLED = {
    "slope_x": "right side high",
    "slope_y": "rear high",
    "indicated": "change of the gap",
    "odd_one": "most unlike",
}
TIPPING = (
    "tipped",
    "on_side",
)  # panels of a family that are reached by tipping or laying the machine down


@dataclass(frozen=True, slots=True)
class ReadingField:
    """What is asked: ``count`` boxes named ``id.0``, ``id.1`` ..., or one pick among ``choices`` (value, words)."""

    id: str
    label: str
    unit: str = ""
    count: int = 1
    choices: tuple[tuple[str, str], ...] = ()
    default: str = ""
    hint: str = ""
    boxes: tuple[str, ...] = ()
    signed: bool = False
    aside: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the boxes."""
        return tuple(f"{self.id}.{place}" for place in range(self.count))


class TypedReadings:
    """What was typed, by the name of its box; an empty box was not typed in."""

    def __init__(self, given: Mapping[str, str]) -> None:
        self.given = {name: text.strip() for name, text in given.items() if text.strip()}

    def rim(self, key: str, span: Span, count: int) -> tuple[float | None, ...]:
        """The numbers of a row, None where a box is empty; raises ReadingError with the box as its field."""
        return tuple(self._number(f"{key}.{place}", span) for place in range(count))

    def row(self, key: str, span: Span, count: int = 2) -> tuple[float, ...]:
        """The numbers of a row that are there."""
        return tuple(value for value in self.rim(key, span, count) if value is not None)

    def one(self, key: str, span: Span) -> float | None:
        """A number, or None."""
        return self._number(f"{key}.0", span)

    def or_else(self, key: str, span: Span, usual: float) -> float:
        """A number, or the usual one."""
        value = self.one(key, span)
        return usual if value is None else value

    def whole(self, key: str, span: Span) -> int | None:
        """A whole number, or None."""
        value = self.one(key, span)
        if value is not None and value != int(value):
            raise ReadingError(
                f"{span.what} of {value:g}", field=f"{key}.0", remedy="give a whole number"
            )
        return None if value is None else int(value)

    def pick(self, key: str, among: Mapping[str, object] | tuple[str, ...], usual: str) -> str:
        """One of the words offered."""
        word = self.given.get(f"{key}.0", usual)
        if word not in among:
            raise ReadingError(
                f"{key}: {word[:40]} is not offered",
                field=f"{key}.0",
                remedy="pick one of the list",
            )
        return word

    def _number(self, name: str, span: Span) -> float | None:
        if name not in self.given:
            return None
        return possible(read_number(self.given[name], name, -1e12, 1e12), span, name)


@dataclass(frozen=True, slots=True)
class MeasurementForm:
    """A measurement: what to do, what is asked, the checks it answers, and how it is understood."""

    kind: str
    title: str
    lead: str
    blanks: tuple[ReadingField, ...]
    understand: Callable[[TypedReadings], Result]
    checks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MeasuredNumber:
    """One number with its 90 % range, and the chance of each word of the bench's scale."""

    name: str
    text: str
    words: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class CountedFinding:
    """A finding that would be put down: ``reading`` and its sd in ``unit``, and the answer it falls into."""

    check: str
    title: str
    reading: float
    reading_sd: float | None
    unit: str
    means: str


@dataclass(frozen=True, slots=True)
class Interpretation:
    """What a measurement was understood to say. Nothing is put down by it."""

    kind: str
    title: str
    cautions: tuple[str, ...]
    sentence: str
    remarks: tuple[str, ...]
    numbers: tuple[MeasuredNumber, ...]
    says: tuple[tuple[str, str], ...]
    counts: tuple[CountedFinding, ...]


def word_choices(*words: str) -> tuple[tuple[str, str], ...]:
    """Choices that read as they are called."""
    return tuple((word, word) for word in words)


def caution_texts(*given: Caution) -> tuple[str, ...]:
    """The texts of the bench's cautions."""
    return tuple(caution.text for caution in given)


def evaluate(sheet: MeasurementForm, given: Mapping[str, str]) -> Result:
    """What the bench makes of what was typed. Raises ReadingError with the box at fault as its field."""
    known = {name for blank in sheet.blanks for name in blank.names}
    for name in given:
        if name not in known:
            raise InputError(
                f"{name[:60]} is not asked here",
                field=name[:60],
                remedy=f"Asked: {', '.join(known)}.",
            )
    return sheet.understand(TypedReadings(given))


def interpret(sheet: MeasurementForm, result: Result, family: Family) -> Interpretation:
    """A result in words and numbers, with the findings that it would put down (the checks of the sheet)."""
    return Interpretation(
        sheet.kind,
        sheet.title,
        tuple(dict.fromkeys((*sheet.cautions, *(caution.text for caution in result.cautions)))),
        result.sentence,
        tuple(getattr(result, "remarks", ())),
        _numbers(result),
        tuple((part, text) for part, text in getattr(result, "says", ())),
        tuple(
            _counted(family.checks[check], one)
            for check, one in check_readings(result).items()
            if check in sheet.checks
        ),
    )


def asks_for_number(family: Family, check: str, features: Mapping[str, str]) -> bool:
    """Whether this family has a check of that name that asks for a number and fits what the machine has."""
    entry = family.checks.get(check)
    return entry is not None and entry.reading is not None and fits(entry.needs, features)


def _numbers(result: Result) -> tuple[MeasuredNumber, ...]:
    grades = result.grades()
    return tuple(
        MeasuredNumber(
            _CALLED.get(name, name.replace("_", " ")), str(one), tuple(grades.get(name, {}).items())
        )
        for name, one in result.measures.items()
    )


def _counted(check: CheckEntry, one: Quantity) -> CountedFinding:
    """The finding; a number beyond the check's range is put down as the end of it: it says no less."""
    asked = check.reading
    assert asked is not None  # noqa: S101  takes() saw to it
    value = min(max(one.value, asked.low), asked.high)
    sd = min(one.sd, asked.high - asked.low) or None
    return CountedFinding(
        check.id, check.title, value, sd, asked.unit, check.outcomes[outcome_of(check, value)]
    )


def entry_bodies(found: Interpretation, only: tuple[str, ...]) -> tuple[Body, ...]:
    """The entries to put down: the findings named in ``only``, or a note where the measurement answers no check."""
    if not found.counts:
        numbers = "; ".join(f"{one.name} {one.text}" for one in found.numbers)
        return (Note(f"{found.title}. {found.sentence}" + (f"\n{numbers}" if numbers else "")),)
    kept = tuple(one for one in found.counts if one.check in only)
    if not kept:
        raise InputError(
            "Nothing is ticked", field="checks", remedy="Tick at least one line to put it down."
        )
    return tuple(
        Finding(one.check, "", reading=one.reading, reading_sd=one.reading_sd, note=found.sentence)
        for one in kept
    )


def figure_address(result: Result) -> str:
    """The figure as the address of an image that travels with the page; nothing where nothing was measured."""
    if not result.measures:
        return ""
    from counterpoise.report.figures.bench import figure_of  # plotting takes a moment to load

    kept = BytesIO()
    figure_of(result).savefig(kept, format="svg", metadata={"Date": None})
    return "data:image/svg+xml," + quote(kept.getvalue())


def lifting_lines(step: Step | None, family: Family) -> tuple[str, ...]:
    """What tipping this machine takes, where the step has to tip it or lay it down."""
    if step is None or not any(opening.access in TIPPING for opening in step.openings):
        return ()
    found = tipping(TippedMachine(mass_kg=family.typical_mass_kg))
    return (f"This machine weighs about {family.typical_mass_kg:g} kg. {found.sentence}",)
