"""What a measurement says: in words, in numbers, and as the findings it would put down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from urllib.parse import quote

from counterpoise.bench.evidence import check_readings, readable
from counterpoise.bench.quantity import Quantity, Result
from counterpoise.catalog.body import MEASUREMENTS
from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.errors import InputError
from counterpoise.report.views.measures.fields import MeasurementForm, TypedReadings
from counterpoise.report.words.machine_words import spoken, spoken_cautions
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.jobs.entries import Body, Finding, Note
from counterpoise.workshop.jobs.finding_checks import outcome_of

# names of the bench's measures that do not read well as they are
_NAMES = {
    "slope_x": "right side high",
    "slope_y": "rear high",
    "indicated": "change of the gap",
    "odd_one": "most unlike",
}
_SHOWN = 60


@dataclass(frozen=True, slots=True)
class MeasuredNumber:
    """One number with its 90 % range, and (word, probability) of the bench's scale."""

    name: str
    text: str
    words: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class CountedFinding:
    """A finding that would be put down: a reading and its sd in ``unit``, and what it means.

    ``reading_sd`` is None where the check's usual error is to hold.
    """

    check: str
    title: str
    reading: float
    reading_sd: float | None
    unit: str
    means: str


@dataclass(frozen=True, slots=True)
class Interpretation:
    """What a measurement was understood to say; nothing is put down by it.

    ``says`` are (part, words); ``counts`` the findings it would put down, empty where it answers no
    check of the family.
    """

    kind: str
    title: str
    cautions: tuple[str, ...]
    sentence: str
    remarks: tuple[str, ...]
    numbers: tuple[MeasuredNumber, ...]
    says: tuple[tuple[str, str], ...]
    counts: tuple[CountedFinding, ...]


def evaluate(form: MeasurementForm, typed: Mapping[str, str]) -> Result:
    """What the bench makes of what was typed, by the names of the boxes.

    Raises ReadingError with the box at fault as its field, InputError for a box that is not there.
    """
    # a misspelt box would silently be an empty one
    known = {name for field in form.fields for name in field.names}
    for name in typed:
        if name not in known:
            raise InputError(
                f"{name[:_SHOWN]} is not asked here",
                field=name[:_SHOWN],
                remedy=f"Asked: {', '.join(known)}.",
            )
    return form.evaluate(TypedReadings(typed))


def interpret(form: MeasurementForm, result: Result, family: Family) -> Interpretation:
    """A result in words and numbers, with the findings that it would put down."""
    # the form's own cautions stand first; one that the result repeats is not said twice
    cautions = (*form.cautions, *(caution.text for caution in result.cautions))

    def say(text: str) -> str:
        return spoken(text, family)

    return Interpretation(
        kind=form.kind,
        title=form.title,
        cautions=spoken_cautions(cautions, family),
        sentence=say(result.sentence),
        remarks=tuple(map(say, getattr(result, "remarks", ()))),
        numbers=_numbers(result),
        says=tuple((say(part), say(words)) for part, words in getattr(result, "says", ())),
        counts=tuple(
            _counted(family.checks[check], quantity)
            for check, quantity in _readings(form, result, family)
        ),
    )


def _readings(form: MeasurementForm, result: Result, family: Family) -> list[tuple[str, Quantity]]:
    """Checks of the form that the result answers, each with its number in the check's unit."""
    known, measures = check_readings(result), readable(result)
    answers = []
    for check in form.checks:
        entry = family.checks[check]
        kind, _, number = entry.measures.partition(".")
        # the number it names; else the one that the bench knows by its id, or the usual of the kind
        usual = MEASUREMENTS[kind][0] if kind and MEASUREMENTS[kind] else ""
        quantity = measures.get(number) if number else known.get(check, measures.get(usual))
        # degrees are no millimetres: a number in another unit answers nothing
        if quantity and entry.reading and quantity.unit == entry.reading.unit:
            answers.append((check, quantity))
    return answers


def asks_for_number(family: Family, check: str, features: Mapping[str, str]) -> bool:
    """Whether the family has such a check, it asks for a number, and it fits these features."""
    entry = family.checks.get(check)
    return entry is not None and entry.reading is not None and fits(entry.needs, features)


def _numbers(result: Result) -> tuple[MeasuredNumber, ...]:
    # a number near an edge of its scale is partly both words
    grades = result.grades()
    return tuple(
        MeasuredNumber(
            _NAMES.get(name, name.replace("_", " ")),
            str(quantity),
            tuple(grades.get(name, {}).items()),
        )
        for name, quantity in result.measures.items()
    )


def _counted(check: CheckEntry, quantity: Quantity) -> CountedFinding:
    """A number beyond the check's range is put down as the end of it: it says no less."""
    reading = check.reading
    assert reading is not None  # noqa: S101  asks_for_number() saw to it
    # the limits are those of the entry, which refuses what lies beyond them
    value = min(max(quantity.value, reading.low), reading.high)
    sd = min(quantity.sd, reading.high - reading.low) or None
    means = check.outcomes[outcome_of(check, value)]
    return CountedFinding(check.id, check.title, value, sd, reading.unit, means)


def entry_bodies(interpretation: Interpretation, only: tuple[str, ...]) -> tuple[Body, ...]:
    """The entries to put down: the findings of the checks named in ``only``.

    Where the measurement answers no check, one note. Raises InputError where no check is named.
    """
    sentence = interpretation.sentence
    # what no check asks for is worth remembering all the same
    if not interpretation.counts:
        numbers = "; ".join(f"{number.name} {number.text}" for number in interpretation.numbers)
        second_line = f"\n{numbers}" if numbers else ""
        return (Note(f"{interpretation.title}. {sentence}{second_line}"),)
    # nothing is put down that was not ticked: the eye decides, not the form
    kept = tuple(finding for finding in interpretation.counts if finding.check in only)
    if not kept:
        raise InputError(
            "Nothing is ticked", field="checks", remedy="Tick at least one line to save it."
        )
    return tuple(
        Finding(f.check, "", reading=f.reading, reading_sd=f.reading_sd, note=sentence)
        for f in kept
    )


def figure_address(result: Result) -> str:
    """The figure as the address of an image that travels with the page; empty without a measure."""
    if not result.measures:
        return ""
    # plotting takes a moment to load; a form needs none of it
    from counterpoise.report.figures.bench import figure_of
    from counterpoise.report.figures.style import in_words

    svg = BytesIO()
    in_words(figure_of(result)).savefig(svg, format="svg", metadata={"Date": None})
    return "data:image/svg+xml," + quote(svg.getvalue())
