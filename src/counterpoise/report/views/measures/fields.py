"""A measurement by hand as a form: what it asks, and what was typed into it."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from counterpoise.bench.cautions import Caution
from counterpoise.bench.quantity import Result
from counterpoise.bench.readings import Span, possible
from counterpoise.errors import ReadingError
from counterpoise.report.words.numbers import read_number

# two boxes for the same place: the spread between them is the reading's own error
TWICE = ("first", "again")
# the span of the reading refuses what cannot be; this only keeps the number finite until then
_BEYOND_ALL = 1e12
_SHOWN = 40


@dataclass(frozen=True, slots=True)
class ReadingField:
    """What is asked: ``count`` boxes named ``id.0``, ``id.1`` ..., or one pick among ``choices``.

    ``choices`` are (value, words); ``boxes`` the words beside each box, empty where they are merely
    numbered; ``signed`` where a minus is meant; ``aside`` where most leave it as it is.
    """

    # goes into the names of boxes, and so into what programs send: never renamed
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
    """What was typed, by the name of its box; an empty box was not typed in.

    Every method raises ReadingError with the box at fault as its field.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        # spaces around a number are no mistake; a box of spaces is an empty one
        self.texts = {name: text.strip() for name, text in texts.items() if text.strip()}

    def numbers(self, key: str, span: Span, count: int) -> tuple[float | None, ...]:
        """The numbers of a row, None where a box is empty: their places count."""
        return tuple(self._number(f"{key}.{place}", span) for place in range(count))

    def given_numbers(self, key: str, span: Span, count: int = 2) -> tuple[float, ...]:
        """The numbers of a row that are there; empty where none is."""
        return tuple(value for value in self.numbers(key, span, count) if value is not None)

    def number(self, key: str, span: Span) -> float | None:
        """A number, None where its box is empty."""
        return self._number(f"{key}.0", span)

    def number_or(self, key: str, span: Span, usual: float) -> float:
        """A number, or the usual one where its box is empty."""
        value = self.number(key, span)
        return usual if value is None else value

    def whole(self, key: str, span: Span) -> int | None:
        """A whole number, None where its box is empty."""
        value = self.number(key, span)
        if value is not None and value != int(value):
            raise ReadingError(
                f"{span.what} of {value:g}", field=f"{key}.0", remedy="give a whole number"
            )
        return None if value is None else int(value)

    def choice(self, key: str, among: Mapping[str, object] | tuple[str, ...], usual: str) -> str:
        """One of the words offered, or the usual one where none was picked."""
        word = self.texts.get(f"{key}.0", usual)
        # only a program sends a word that is not offered; it is told so by its box
        if word not in among:
            raise ReadingError(
                f"{key}: {word[:_SHOWN]} is not offered",
                field=f"{key}.0",
                remedy="pick one of the list",
            )
        return word

    def _number(self, name: str, span: Span) -> float | None:
        if name not in self.texts:
            return None
        value = read_number(self.texts[name], name, -_BEYOND_ALL, _BEYOND_ALL)
        # what no drum or spring can have asks back, with what was likely meant
        return possible(value, span, name)


@dataclass(frozen=True, slots=True)
class Sketch:
    """A drawing of our own beside a form: ``svg`` draws it, ``words`` for who does not see it."""

    # drawn when it is shown: letters of the reader's language stand in it
    svg: Callable[[], str]
    words: str

    @property
    def address(self) -> str:
        """As the address of an image that needs no second request."""
        return "data:image/svg+xml;base64," + base64.b64encode(self.svg().encode()).decode()


@dataclass(frozen=True, slots=True)
class MeasurementForm:
    """A measurement: what to do (``lead``), what is asked, and the checks of a family it answers.

    ``evaluate`` makes the bench's result of what was typed; it raises ReadingError. ``sketch`` is
    None where words are enough.
    """

    kind: str
    title: str
    lead: str
    fields: tuple[ReadingField, ...]
    evaluate: Callable[[TypedReadings], Result]
    checks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sketch: Sketch | None = None


def word_choices(*words: str) -> tuple[tuple[str, str], ...]:
    """Choices whose value is the word itself, as (value, words)."""
    return tuple((word, word) for word in words)


def caution_texts(*cautions: Caution) -> tuple[str, ...]:
    """The texts of the bench's cautions, in the order given."""
    return tuple(caution.text for caution in cautions)
