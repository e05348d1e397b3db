"""Reads a supplier's list against the catalog, line by line; a fault spoils its line alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money.order import Quality
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.column_names import plain_name
from counterpoise.workshop.parts.csv_cells import without_apostrophe
from counterpoise.workshop.parts.csv_sheet import LONGEST_LINE, CsvRow, CsvSheet, read_sheet
from counterpoise.workshop.parts.number_formats import (
    bare,
    decimal_mark,
    is_currency,
    read_price,
    read_whole,
)
from counterpoise.workshop.parts.part_names import CellError, PartNames
from counterpoise.workshop.parts.price_list import (
    LineFault,
    ListFormat,
    PriceLine,
    ReadPriceList,
)

Value = TypeVar("Value")
# faults kept to be shown; the others are counted
MOST_FAULTS = 1000
MARKS = {"comma": ",", "point": "."}
# a box of clips; two years, as for what is out of production
_MOST_PIECES, _MOST_DAYS = 1000, 730
_LONGEST_TEXT = 200
# what suppliers write in the column of the kind (common practice in English, German, French, Dutch;
# from memory); a part of which nothing is said is new
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


def read_list(
    data: bytes,
    families: Mapping[str, Family],
    currency: str,
    list_format: ListFormat,
    known: Mapping[str, tuple[str, str]],
) -> ReadPriceList:
    """Read a list. ``known``: supplier's number to (family, part), from lists read before.

    Raises InputError where the whole cannot be read; what is wrong with a line is in the result.
    """
    sheet = read_sheet(
        data, list_format.columns, separator=list_format.separator, encoding=list_format.encoding
    )
    # without our parts the supplier's own numbers will do, once they are known
    if "price" not in sheet.at or not {"part", "number"} & set(sheet.at):
        missing = "price" if "price" not in sheet.at else "part"
        heads = ", ".join(repr(head[:30]) for head in sheet.heads[:12])
        raise InputError(
            f"columns: there is no {missing} among {heads}",
            field=missing,
            remedy=f"Say which it is, like {missing}=3",
        )
    if list_format.family and list_format.family not in families:
        raise InputError(
            f"family: there is no {list_format.family[:40]!r}",
            field="family",
            remedy=did_you_mean(list_format.family, families),
        )
    mark = _decimal_mark(sheet, list_format.decimal)
    names = PartNames(families, list_format.family, known)
    return _Reader(sheet, mark, currency, names).read()


def _decimal_mark(sheet: CsvSheet, given: str) -> str:
    """The mark before the cents; empty where the list does not show it and nobody says."""
    if given and given not in MARKS:
        raise InputError(
            f"decimal: {given[:20]!r} is no mark", field="decimal", remedy="Say comma or point"
        )
    if given:
        return MARKS[given]
    column = sheet.at["price"]
    return decimal_mark(row.cells[column] for row in sheet.rows if len(row.cells) > column)


class _Reader:
    """Reads the rows of a sheet; counts and keeps the faults."""

    def __init__(self, sheet: CsvSheet, mark: str, currency: str, names: PartNames) -> None:
        self._sheet, self._mark, self._currency, self._names = sheet, mark, currency, names
        self._faults: list[LineFault] = []
        self._count = self._broken = self._not_ours = 0

    def read(self) -> ReadPriceList:
        sheet = self._sheet
        lines = tuple(self._lines())
        return ReadPriceList(
            encoding=sheet.encoding,
            separator=sheet.separator,
            decimal=self._mark,
            columns={name: sheet.heads[place] for name, place in sheet.at.items()},
            lines=lines,
            faults=tuple(self._faults),
            fault_count=self._count,
            broken=self._broken,
            not_ours=self._not_ours,
        )

    def _lines(self) -> Iterator[PriceLine]:
        lines_of: dict[tuple[str, ...], int] = {}
        for row in self._sheet.rows:
            # faults are counted, so a line is good where the count did not move
            before = self._count
            line = self._line(row)
            # two prices for the same thing: which of them holds nobody can tell
            if line and line.same in lines_of:
                self._fault(
                    row.line,
                    "part",
                    f"the same as in line {lines_of[line.same]}",
                    "Leave one of the two out",
                )
            elif line and self._count == before:
                lines_of[line.same] = row.line
                yield line
            self._broken += self._count > before
            self._not_ours += line is None and self._count == before

    def _fault(self, line: int, column: str, what: str, remedy: str) -> None:
        self._count += 1
        # a list in the wrong columns has a fault in every line
        if len(self._faults) < MOST_FAULTS:
            self._faults.append(LineFault(line, column, what, remedy))

    def _cell(self, row: CsvRow, column: str) -> str:
        place = self._sheet.at.get(column)
        text = row.cells[place] if place is not None and place < len(row.cells) else ""
        return without_apostrophe(text)

    def _line(self, row: CsvRow) -> PriceLine | None:
        """One line; None where it is not ours or has a fault, each of which is put down."""
        if row.fault:
            self._fault(
                row.line, "", row.fault, f"Mend the line; it may have {LONGEST_LINE} characters"
            )
            return None
        before = self._count
        part = self._tried(row, self._part)
        if part is None and self._count == before:
            return None
        # every column is tried, so that all that is wrong with a line is said at once
        price, pack, kind = (
            self._tried(row, self._price),
            self._tried(row, self._pack),
            self._tried(row, self._kind),
        )
        days, texts = self._tried(row, self._days), self._tried(row, self._texts)
        if (
            self._count > before
            or part is None
            or price is None
            or pack is None
            or kind is None
            or texts is None
        ):
            return None
        return PriceLine(row.line, *part, kind, price, pack, days, *texts)

    def _tried(self, row: CsvRow, read: Callable[[CsvRow], Value]) -> Value | None:
        """What a column says; None where it has a fault, which is put down."""
        try:
            return read(row)
        except CellError as fault:
            self._fault(row.line, fault.column, fault.what, fault.remedy)
        return None

    def _part(self, row: CsvRow) -> tuple[str, str] | None:
        return self._names.find(self._cell(row, "part"), self._cell(row, "number"))

    def _price(self, row: CsvRow) -> int:
        text = self._cell(row, "price")
        named = self._cell(row, "currency").upper()
        # a sign at the price goes before the column: that is what somebody looked at
        code = bare(text)[1] or bare(named)[1] or named
        if code and not is_currency(code, self._currency):
            raise CellError(
                "currency",
                f"the price is in {code[:10]!r}",
                f"Give it in {self._currency}: no rates are known here",
            )
        try:
            return read_price(text, self._mark)
        except ValueError as error:
            raise CellError("price", str(error), self._price_remedy(text)) from error

    def _price_remedy(self, text: str) -> str:
        if not self._mark and ("." in text or "," in text):
            return "Say whether this list writes cents after a point or a comma"
        return f"Write it like 38{self._mark or '.'}50, or leave the line out"

    def _pack(self, row: CsvRow) -> int:
        # an empty cell is a single piece
        return self._whole(row, "pack", 1, _MOST_PIECES) or 1

    def _days(self, row: CsvRow) -> int | None:
        return self._whole(row, "lead_days", 0, _MOST_DAYS)

    def _whole(self, row: CsvRow, column: str, low: int, high: int) -> int | None:
        text = self._cell(row, column)
        try:
            return read_whole(text, low, high) if text else None
        except ValueError as error:
            raise CellError(
                column, str(error), "Write the number alone, or leave it empty"
            ) from error

    def _kind(self, row: CsvRow) -> Quality:
        text = self._cell(row, "kind")
        # no guess: a used part sold as new would cost the workshop its name
        kind = _KIND_OF.get(plain_name(text))
        if kind is None:
            raise CellError(
                "kind", f"{text[:30]!r} is no kind of part", "Write new, pattern or used"
            )
        return kind

    def _texts(self, row: CsvRow) -> tuple[str, str, str]:
        texts = {name: self._cell(row, name) for name in ("maker", "number", "description")}
        for name, text in texts.items():
            # half a surrogate pair cannot be stored, a control character not be shown
            if any(letter < " " or "\ud800" <= letter <= "\udfff" for letter in text):
                raise CellError(name, "there are characters that cannot be shown", "Type it anew")
        maker, number, description = (text[:_LONGEST_TEXT] for text in texts.values())
        return maker, number, description
