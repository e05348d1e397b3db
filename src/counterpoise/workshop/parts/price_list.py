"""The lines of a supplier's list against the catalog: what can be taken, and what is wrong with the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money.order import Quality
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.csv_sheet import LONGEST_LINE, Row, Sheet, plain_name, sheet_of
from counterpoise.workshop.parts.number_formats import (
    bare,
    decimal_mark,
    is_currency,
    read_price,
    read_whole,
)

Found = TypeVar("Found")
MOST_FAULTS = 1000  # faults kept to be shown; the others are counted
MARKS = {"comma": ",", "point": "."}
_MOST_SEARCHES = 300
_FAR = 5.0  # so many times the price that stood before: asked about, not refused
_KINDS: Mapping[Quality, tuple[str, ...]] = {
    "new": ("", "new", "n", "genuine", "original", "oem", "neu", "neuf", "neuve", "nieuw"),
    "pattern": (
        "pattern",
        "p",
        "compatible",
        "aftermarket",
        "nachbau",
        "kompatibel",
        "adaptable",
        "compatibel",
    ),
    "used": ("used", "u", "secondhand", "refurbished", "gebraucht", "occasion", "gebruikt"),
}
_KIND_OF = {word: kind for kind, words in _KINDS.items() for word in words}


@dataclass(frozen=True, slots=True)
class Habits:
    """What is told about a list where it is not plain: columns by head or number, separator, encoding, decimal mark.

    ``family``: the machines it is for, where ids of parts are known to several families.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    separator: str = ""
    encoding: str = ""
    decimal: str = ""
    family: str = ""


@dataclass(frozen=True, slots=True)
class PriceLine:
    """A price: ``price_minor`` for ``pack`` pieces of a part of ours; ``maker`` whose machines it fits, empty: any."""

    line: int
    family: str
    part: str
    kind: Quality
    price_minor: int
    pack: int = 1
    lead_days: int | None = None
    maker: str = ""
    number: str = ""
    description: str = ""

    @property
    def same(self) -> tuple[str, ...]:
        """What makes two lines speak of the same thing."""
        return (self.family, self.part, self.kind, self.maker.casefold(), self.number.casefold())


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a line, in which column, and what to do about it."""

    line: int
    column: str
    what: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Reading:
    """A list as it was understood. ``not_ours``: lines without a part of ours; ``broken``: lines with a fault.

    ``faults`` are at most :data:`MOST_FAULTS`, of ``fault_count``. ``columns`` says which head was taken for which
    column.
    """

    encoding: str
    separator: str
    decimal: str
    columns: dict[str, str]
    lines: tuple[PriceLine, ...]
    faults: tuple[Fault, ...]
    fault_count: int
    broken: int
    not_ours: int


def read_list(
    data: bytes,
    families: Mapping[str, Family],
    currency: str,
    habits: Habits,
    known: Mapping[str, tuple[str, str]],
) -> Reading:
    """Read a list. ``known``: supplier's number to (family, part), from lists read before.

    Raises InputError where the whole cannot be read.
    """
    sheet = sheet_of(data, habits.columns, separator=habits.separator, encoding=habits.encoding)
    if "price" not in sheet.at or not {"part", "number"} & set(sheet.at):
        missing = "price" if "price" not in sheet.at else "part"
        heads = ", ".join(repr(head[:30]) for head in sheet.heads[:12])
        raise InputError(
            f"columns: there is no {missing} among {heads}",
            field=missing,
            remedy=f"Say which it is, like {missing}=3",
        )
    if habits.family and habits.family not in families:
        raise InputError(
            f"family: there is no {habits.family[:40]!r}",
            field="family",
            remedy=did_you_mean(habits.family, families),
        )
    mark = _mark(sheet, habits.decimal)
    return _Reader(sheet, mark, currency, _Catalog(families, habits.family, known)).reading()


def _mark(sheet: Sheet, told: str) -> str:
    if told and told not in MARKS:
        raise InputError(
            f"decimal: {told[:20]!r} is no mark", field="decimal", remedy="Say comma or point"
        )
    column = sheet.at["price"]
    return (
        MARKS[told]
        if told
        else decimal_mark(row.cells[column] for row in sheet.rows if len(row.cells) > column)
    )


class _FaultError(ValueError):
    """A cell that cannot be right."""

    def __init__(self, column: str, what: str, remedy: str) -> None:
        self.column, self.what, self.remedy = column, what, remedy
        super().__init__(what)


class _Catalog:
    """Finds the part of ours that a line means."""

    def __init__(
        self, families: Mapping[str, Family], family: str, known: Mapping[str, tuple[str, str]]
    ) -> None:
        self._known, self._searches = known, 0
        wanted = {family: families[family]} if family else families
        self._exact = {
            f"{f.id}/{part}": (f.id, part) for f in families.values() for part in f.parts
        }
        self._titles = {
            part.id: part.title for one in wanted.values() for part in one.parts.values()
        }
        self._by_name: dict[str, list[tuple[str, str]]] = {}
        for one in wanted.values():
            for part in one.parts.values():
                for name in {part.id, part.title.casefold()}:
                    self._by_name.setdefault(name, []).append((one.id, part.id))

    def find(self, given: str, number: str) -> tuple[str, str] | None:
        """The part, None where the line is about none of ours."""
        if not given:
            return self._known.get(number.casefold()) if number else None
        if given in self._exact:
            return self._exact[given]
        found = self._by_name.get(given) or self._by_name.get(given.casefold(), [])
        if len(found) > 1:
            names = " or ".join("/".join(one) for one in found)
            raise _FaultError("part", f"{given[:40]!r} is in several kinds of machines", f"Write {names}, or say which "
                              "kind the list is for")  # fmt: skip
        if not found:
            raise _FaultError("part", f"there is no part {given[:40]!r}", self._near(given))
        return found[0]

    def _near(self, given: str) -> str:
        """What may have been meant; searched for the first faults only, for it takes a millisecond."""
        self._searches += 1
        if self._searches > _MOST_SEARCHES:
            return "Write the id of a part of ours, or leave it empty where it is none"
        return did_you_mean(given.rpartition("/")[2][:60], self._titles)


class _Reader:
    def __init__(self, sheet: Sheet, mark: str, currency: str, catalog: _Catalog) -> None:
        self._sheet, self._mark, self._currency, self._catalog = sheet, mark, currency, catalog
        self._faults: list[Fault] = []
        self._count = self._broken = self._not_ours = 0

    def reading(self) -> Reading:
        seen: dict[tuple[str, ...], int] = {}
        lines = tuple(self._lines(seen))
        sheet = self._sheet
        columns = {name: sheet.heads[place] for name, place in sheet.at.items()}
        return Reading(
            sheet.encoding, sheet.separator, self._mark, columns, lines, tuple(self._faults), self._count, self._broken,
            self._not_ours,
        )  # fmt: skip

    def _lines(self, seen: dict[tuple[str, ...], int]) -> Iterator[PriceLine]:
        for row in self._sheet.rows:
            before = self._count
            line = self._line(row)
            if line and line.same in seen:
                self._fault(
                    row.line,
                    "part",
                    f"the same as in line {seen[line.same]}",
                    "Leave one of the two out",
                )
            elif line and self._count == before:
                seen[line.same] = row.line
                yield line
            self._broken += self._count > before
            self._not_ours += line is None and self._count == before

    def _fault(self, line: int, column: str, what: str, remedy: str) -> None:
        self._count += 1
        if len(self._faults) < MOST_FAULTS:
            self._faults.append(Fault(line, column, what, remedy))

    def _cell(self, row: Row, column: str) -> str:
        place = self._sheet.at.get(column)
        text = row.cells[place] if place is not None and place < len(row.cells) else ""
        return text[1:] if text[:1] == "'" and text[1:2] in tuple("=+-@") else text

    def _line(self, row: Row) -> PriceLine | None:
        """One line; None where it is not ours or has a fault, each of which is put down."""
        if row.fault:
            self._fault(
                row.line, "", row.fault, f"Mend the line; it may have {LONGEST_LINE} characters"
            )
            return None
        before = self._count
        where = self._tried(row, self._part)
        if where is None and self._count == before:
            return None
        price, pack, kind = (
            self._tried(row, self._price),
            self._tried(row, self._pack),
            self._tried(row, self._kind),
        )
        days, texts = self._tried(row, self._days), self._tried(row, self._texts)
        if (
            self._count > before
            or where is None
            or price is None
            or pack is None
            or kind is None
            or texts is None
        ):
            return None
        return PriceLine(row.line, *where, kind, price, pack, days, *texts)

    def _tried(self, row: Row, read: Callable[[Row], Found]) -> Found | None:
        """What a column says; None where it has a fault, which is put down."""
        try:
            return read(row)
        except _FaultError as fault:
            self._fault(row.line, fault.column, fault.what, fault.remedy)
        return None

    def _part(self, row: Row) -> tuple[str, str] | None:
        return self._catalog.find(self._cell(row, "part"), self._cell(row, "number"))

    def _price(self, row: Row) -> int:
        text = self._cell(row, "price")
        named = self._cell(row, "currency").upper()
        code = bare(text)[1] or bare(named)[1] or named
        if code and not is_currency(code, self._currency):
            raise _FaultError(
                "currency",
                f"the price is in {code[:10]!r}",
                f"Give it in {self._currency}: no rates are known here",
            )
        try:
            return read_price(text, self._mark)
        except ValueError as error:
            raise _FaultError("price", str(error), self._price_remedy(text)) from error

    def _price_remedy(self, text: str) -> str:
        if not self._mark and ("." in text or "," in text):
            return "Say whether this list writes cents after a point or a comma"
        return f"Write it like 38{self._mark or '.'}50, or leave the line out"

    def _pack(self, row: Row) -> int:
        return self._whole(row, "pack", 1, 1000) or 1

    def _days(self, row: Row) -> int | None:
        return self._whole(row, "lead_days", 0, 730)

    def _whole(self, row: Row, column: str, low: int, high: int) -> int | None:
        text = self._cell(row, column)
        try:
            return read_whole(text, low, high) if text else None
        except ValueError as error:
            raise _FaultError(
                column, str(error), "Write the number alone, or leave it empty"
            ) from error

    def _kind(self, row: Row) -> Quality:
        text = self._cell(row, "kind")
        kind = _KIND_OF.get(plain_name(text))
        if kind is None:
            raise _FaultError(
                "kind", f"{text[:30]!r} is no kind of part", "Write new, pattern or used"
            )
        return kind

    def _texts(self, row: Row) -> tuple[str, str, str]:
        texts = {name: self._cell(row, name) for name in ("maker", "number", "description")}
        for name, text in texts.items():
            if any(letter < " " or "\ud800" <= letter <= "\udfff" for letter in text):
                raise _FaultError(name, "there are characters that cannot be shown", "Type it anew")
        return texts["maker"][:200], texts["number"][:200], texts["description"][:200]


def far_off(line: PriceLine, before_minor: float) -> bool:
    """Whether a price is so far from what stood before that the comma may have slipped."""
    each = line.price_minor / line.pack
    return before_minor > 0 and not 1 / _FAR <= each / before_minor <= _FAR
