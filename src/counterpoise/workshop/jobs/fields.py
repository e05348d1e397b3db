"""How a field of an entry is declared: its type, its limits and its choices, said once.

The marks stand in ``Annotated`` beside the type of a dataclass field (:mod:`.entries`). From them
follow the reading and writing of stored entries (:mod:`.entry_json`), the checks before one is
stored (:mod:`.entry_checks`), what the API takes and its schema (:mod:`counterpoise.web.schemas`),
and the reading of forms (:mod:`counterpoise.web.forms`).

Ranges and choices hold for whatever is put down. Lengths hold for what comes over the network:
the terminal and older stores hold longer texts, up to ``entry_json.LONGEST``.

Importing pydantic takes longer than listing the jobs of a workshop may, so nothing here needs it;
it finds its own constraints in the marks by iterating over them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import MISSING, dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, TypeVar, Union, get_args, get_origin, get_type_hints

from counterpoise.catalog.body import FASTEST_RPM
from counterpoise.errors import InputError

# what is sent is shown on pages and printed on sheets
PLAIN_LETTERS = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$"  # no control characters but tab and breaks
# an id stands in addresses and names of form fields
ID_LETTERS = r"^[A-Za-z0-9_.:-]*$"
Mark = TypeVar("Mark")
# no money, force or number of an entry comes near
_FAR = 1e9


class Constraint:
    """A mark that pydantic reads as the constraints it iterates over."""

    # the protocol by which pydantic knows marks of others (annotated_types.GroupedMetadata)
    __is_annotated_types_grouped_metadata__ = True
    __slots__ = ()

    def __iter__(self) -> Iterator[object]:
        """The constraints as pydantic knows them."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Range(Constraint):
    """The least and the largest number; ``above``: what it must be larger than."""

    low: float | None = None
    high: float | None = None
    above: float | None = None

    def __iter__(self) -> Iterator[object]:
        from pydantic import Field

        # JSON has no infinity and no NaN, but Python's reader of it takes the words
        bounds = Field(ge=self.low, gt=self.above, le=self.high, allow_inf_nan=False)
        yield from bounds.metadata

    @property
    def span(self) -> tuple[float, float]:
        """(low, high); what is open reaches to a thousand million, further than anything here."""
        low = self.low if self.low is not None else self.above
        return (-_FAR if low is None else low, _FAR if self.high is None else self.high)

    def holds(self, value: float) -> bool:
        """Whether a number lies within; NaN never does."""
        return (
            (self.low is None or value >= self.low)
            and (self.above is None or value > self.above)
            and (self.high is None or value <= self.high)
        )

    def check(self, value: float, field: str) -> None:
        """Raise InputError naming the field where the number lies outside."""
        if not self.holds(value):
            low, high = self.span
            raise InputError(
                f"{field}: {value:g} cannot be",
                field=field,
                remedy=f"Give a number from {low:g} to {high:g}",
            )


@dataclass(frozen=True, slots=True)
class Whole(Range):
    """The least and the largest whole number: an amount of money, the number of an entry."""

    def __iter__(self) -> Iterator[object]:
        from pydantic import Field

        yield from Field(ge=self.low, gt=self.above, le=self.high).metadata

    def check(self, value: float, field: str) -> None:
        """Raise InputError naming the field where the number lies outside."""
        # said apart: nobody means a price below zero, it is a slip of the sign
        if self.low == 0 and value < 0:
            raise InputError(
                f"{field}: {value} is below zero",
                field=field,
                remedy="Give the amount without a minus",
            )
        Range.check(self, value, field)


@dataclass(frozen=True, slots=True)
class Text(Constraint):
    """The most characters of a text, and which (a pattern, empty: any).

    ``stripped``: blanks around it do not count.
    """

    longest: int
    letters: str = ""
    stripped: bool = False

    def __iter__(self) -> Iterator[object]:
        from pydantic import StringConstraints

        # None leaves a constraint out, where False would still stand in the schema
        yield from StringConstraints(
            max_length=self.longest,
            pattern=self.letters or None,
            strip_whitespace=self.stripped or None,
        )


@dataclass(frozen=True, slots=True)
class Count(Constraint):
    """The most, and the least, items that a list or a set of fields may hold; 0 to ``most``."""

    most: int
    least: int = 0

    def __iter__(self) -> Iterator[object]:
        from pydantic import Field

        yield from Field(max_length=self.most, min_length=self.least or None).metadata


@dataclass(frozen=True, slots=True)
class Choice:
    """What a ``Literal`` chooses: ``what`` it is no example of, and the remedy."""

    what: str
    remedy: str

    def check(self, value: object, known: tuple[object, ...], field: str) -> str:
        """Return the choice. Raises InputError naming the field."""
        if value not in known:
            raise InputError(f"{field}: {value!r} is {self.what}", field=field, remedy=self.remedy)
        return str(value)


# None is a value a field can have
_AS_STORED = object()


@dataclass(frozen=True, slots=True)
class SentAs:
    """How a field differs where somebody sends it: by its default, by its type.

    A field that a stored entry always has can have a ``default`` where it is sent; a choice that
    only the program makes is left out of ``hint``.
    """

    default: object = _AS_STORED
    hint: object = _AS_STORED


@dataclass(frozen=True, slots=True)
class StoredAs:
    """The name under which stored entries hold the field, where an older one is kept."""

    name: str


class _ByProgram:
    """Marks a field that the program fills in: nobody sends it."""

    __slots__ = ()


# such fields are in no form and no schema: what is sent under their names is refused
BY_PROGRAM = _ByProgram()

Short = Annotated[str, Text(200, PLAIN_LETTERS, stripped=True)]
Long = Annotated[str, Text(4000, PLAIN_LETTERS, stripped=True)]
# two letters as in ISO 639-1: a customer's language may be one that the program has no texts in
LANGUAGE_LETTERS = r"^([a-z]{2})?$"
Language = Annotated[str, Text(2, LANGUAGE_LETTERS, stripped=True)]
# an id of the catalog; whether it exists is asked of the catalog
Ident = Annotated[str, Text(80, ID_LETTERS)]
# the digest of a photo or recording; whether it is kept is asked of the store
FileId = Annotated[str, Text(120)]
# a day at one step is a slip: nobody spends it in a workshop
Minutes = Annotated[float, Range(0, 24 * 60)]
Number = Annotated[float, Range(-1e9, 1e9)]
# slower than any spin; faster than any household machine (from memory)
LEAST_RPM, MOST_RPM = 200, FASTEST_RPM
SpinRpm = Annotated[float, Range(LEAST_RPM, MOST_RPM)]
Minor = Annotated[int, Whole(0, 10**11)]  # money in minor units
# a new machine: one for nothing would make every repair a loss
MachinePrice = Annotated[int, Whole(10_00, 10**7)]


@dataclass(frozen=True, slots=True)
class EntryField:
    """A field of a kind of entry: how it is stored, and how it is sent if it is.

    ``hint`` is its type with all marks; ``default`` is MISSING where a stored entry always has it.
    """

    name: str
    hint: object
    default: object
    stored_name: str
    sent: bool
    sent_hint: object
    sent_default: object

    @property
    def required(self) -> bool:
        """Whether a stored entry always has it: it has no default, not even None or empty."""
        return self.default is MISSING

    @property
    def optional(self) -> bool:
        """Whether it may be None: not known."""
        return self.bare != self.hint and NoneType in get_args(_without_marks(self.hint))

    @property
    def bare(self) -> object:
        """Its type without marks and None: ``str``, ``float``, ``tuple[...]``."""
        return bare_type(self.hint)


def fields_of(kind: type) -> tuple[EntryField, ...]:
    """The fields of a kind of entry, in the order of its dataclass."""
    return _fields_of(kind)


def sent_fields(kind: type) -> tuple[EntryField, ...]:
    """The fields of a kind of entry that somebody may send."""
    return tuple(field for field in fields_of(kind) if field.sent)


@cache
def _fields_of(kind: type) -> tuple[EntryField, ...]:
    # annotations are texts here, resolved in the module of the dataclass
    hints = get_type_hints(kind, include_extras=True)
    out = []
    for part in dataclasses.fields(kind):
        hint = hints[part.name]
        default = part.default
        # the value is compared with, never handed out: nobody can change it
        if part.default_factory is not MISSING:
            default = part.default_factory()
        stored, sent_as = mark_of(hint, StoredAs), mark_of(hint, SentAs) or SentAs()
        out.append(
            EntryField(
                name=part.name,
                hint=hint,
                default=default,
                stored_name=stored.name if stored else part.name,
                sent=mark_of(hint, _ByProgram) is None,
                sent_hint=hint if sent_as.hint is _AS_STORED else sent_as.hint,
                sent_default=default if sent_as.default is _AS_STORED else sent_as.default,
            )
        )
    return tuple(out)


def mark_of(hint: object, kind: type[Mark]) -> Mark | None:
    """The first mark of a kind in a type, also inside ``... | None``; None where there is none."""
    for mark in get_args(hint)[1:] if get_origin(hint) is Annotated else ():
        if isinstance(mark, kind):
            return mark
    # limits of an optional number stand inside: ``Annotated[float, Range(0, 1)] | None``
    inner = _without_marks(hint)
    if get_origin(inner) in {Union, UnionType}:
        return next((m for arm in get_args(inner) if (m := mark_of(arm, kind)) is not None), None)
    return None


def bare_type(hint: object) -> object:
    """A type without marks and None."""
    inner = _without_marks(hint)
    if get_origin(inner) in {Union, UnionType}:
        return bare_type(next(arm for arm in get_args(inner) if arm is not NoneType))
    return inner


def _without_marks(hint: object) -> object:
    return get_args(hint)[0] if get_origin(hint) is Annotated else hint
