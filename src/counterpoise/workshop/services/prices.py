"""Suppliers' price lists: looked at first, then all of a list is taken in, or nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entry_json import read_text
from counterpoise.workshop.parts.csv_cells import safe_cell
from counterpoise.workshop.parts.csv_sheet import SEPARATORS
from counterpoise.workshop.parts.price_list import (
    LineFault,
    ListFormat,
    PriceLine,
    ReadPriceList,
    far_off,
)
from counterpoise.workshop.parts.price_list_reader import read_list
from counterpoise.workshop.parts.prices import Price, PriceBook, PriceList

if TYPE_CHECKING:
    from counterpoise.workshop.services.families import Families
    from counterpoise.workshop.store.store import Store

# a page of a list of thousands; the counts are of all
MOST_SHOWN = 200
_LONGEST_NAME = 80
_FAULTS_IN_A_MESSAGE = 3
# the names that the reader of lists finds by itself, so that it can be read in again
_CSV_HEAD = (
    "part", "number", "description", "price", "currency", "pack", "kind", "lead_days", "maker",
    "supplier", "as_of",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PriceFile:
    """A list as it was sent: whose it is, the name of its file, its bytes, and how to read it."""

    supplier: str
    file: str
    data: bytes
    # what is not said is found out from the file
    habits: ListFormat = field(default_factory=ListFormat)


@dataclass(frozen=True, slots=True)
class PriceChange:
    """What a line would change, in minor units.

    ``before_minor`` is the price of one that stood, else the catalog's (``by`` says which), 0 where
    the catalog has none; ``odd``: so far from it that the comma may have slipped.
    """

    line: int
    family: str
    part: str
    title: str
    kind: str
    maker: str
    price_minor: int
    pack: int
    before_minor: int
    by: Literal["list", "catalog"]
    odd: bool


@dataclass(frozen=True, slots=True)
class PricePreview:
    """A list as it would be taken in; nothing is stored. ``last`` is the last list the store had.

    ``changes`` and ``faults`` are at most :data:`MOST_SHOWN` of their counts; changes that look odd
    come first.
    """

    supplier: str
    file: str
    currency: str
    encoding: str
    separator: str
    decimal: str
    columns: dict[str, str]
    taken: int
    new: int
    changed: int
    same: int
    odd: int
    not_ours: int
    broken: int
    fault_count: int
    faults: tuple[LineFault, ...]
    changes: tuple[PriceChange, ...]
    last: int


class Prices:
    """The suppliers' lists of a workshop and the prices that stand by them."""

    def __init__(self, store: Store, families: Families) -> None:
        self._store = store
        self._families = families

    def book(self) -> PriceBook:
        """All lists and prices as they are now."""
        return self._store.prices.book()

    def preview(self, price_file: PriceFile) -> PricePreview:
        """Look at a list; stores nothing. Raises InputError where the whole cannot be read."""
        book = self.book()
        supplier = _supplier(book, price_file.supplier)
        currency = self._store.settings.get().currency
        reading = self._read(price_file, book, supplier, currency)
        # only this supplier's: another's price is no change of his
        before = book.before(supplier)
        changes = [_change(self._families, line, before) for line in reading.lines]
        # lines are the same by part, kind, maker and number, not by their place in the file
        new = sum(line.same not in before for line in reading.lines)
        moved = [
            change
            for change, line in zip(changes, reading.lines, strict=True)
            if _moves(before.get(line.same), line)
        ]
        return PricePreview(
            supplier=supplier,
            file=price_file.file,
            currency=currency,
            encoding=reading.encoding,
            separator=SEPARATORS[reading.separator],
            # a list of whole prices shows neither
            decimal={",": "comma", ".": "point"}.get(reading.decimal, ""),
            columns=reading.columns,
            taken=len(reading.lines),
            new=new,
            changed=len(moved) - new,
            same=len(changes) - len(moved),
            odd=sum(change.odd for change in changes),
            not_ours=reading.not_ours,
            broken=reading.broken,
            fault_count=reading.fault_count,
            faults=reading.faults[:MOST_SHOWN],
            # stable: within odd and plain ones the order of the file
            changes=tuple(sorted(moved, key=lambda change: not change.odd)[:MOST_SHOWN]),
            last=book.mark,
        )

    def take_in(
        self,
        price_file: PriceFile,
        by: str,
        *,
        leave_out: bool = False,
        whole: bool = False,
        expected_last: int | None = None,
    ) -> PriceList:
        """Take a list in, in one transaction; one broken line stops it unless ``leave_out``.

        ``whole``: it replaces the supplier's former prices, also those it does not name; then no
        line may be broken. Raises InputError, and ConflictError where a list other than
        ``expected_last`` came in meanwhile.
        """
        book = self.book()
        supplier = _supplier(book, price_file.supplier)
        reading = self._read(price_file, book, supplier, self._store.settings.get().currency)
        # a broken line of a list that replaces all would take its price away
        if reading.broken and (whole or not leave_out):
            raise InputError(_refusal(reading), field="file", remedy=_remedy(whole, reading))
        # replacing everything by nothing is never what was meant
        if not reading.lines:
            raise InputError(
                "Nothing was taken in: no line is about a part of ours",
                field="part",
                remedy="Put the ids of our parts into a column of their own",
            )
        return self._store.prices.add(
            supplier,
            read_text(price_file.file, "file"),
            reading.lines,
            by,
            left_out=reading.broken,
            whole=whole,
            expected_last=expected_last,
        )

    def take_back(self, number: int, by: str) -> None:
        """Take a list back: what stood before it stands again. Raises NotFoundError, InputError."""
        self._store.prices.take_back(number, by)

    def as_csv(self) -> str:
        """The prices that stand, as a CSV that can be read in again; empty cells where unknown."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(_CSV_HEAD)
        currency = self._store.settings.get().currency
        for price in self.book().prices:
            # prices of lists taken back, or replaced by newer ones, are history
            if price.stands:
                writer.writerow(_csv_row(price, currency))
        return out.getvalue()

    def _read(
        self, price_file: PriceFile, book: PriceBook, supplier: str, currency: str
    ) -> ReadPriceList:
        return read_list(
            price_file.data,
            self._families,
            currency,
            price_file.habits,
            book.known_numbers(supplier),
        )


def _supplier(book: PriceBook, given: str) -> str:
    """The supplier's name as it was written before, where it was."""
    name = " ".join(read_text(given, "supplier").split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise InputError(
            "supplier: a short name is needed",
            field="supplier",
            remedy=f"Say whose list it is, in {_LONGEST_NAME} letters",
        )
    # "ashlar parts" typed once must not become a second supplier beside "Ashlar Parts"
    known = (former.supplier for former in book.lists)
    return next((former for former in known if former.casefold() == name.casefold()), name)


def _change(
    families: Mapping[str, Family], line: PriceLine, before: Mapping[tuple[str, ...], PriceLine]
) -> PriceChange:
    family, old = families[line.family], before.get(line.same)
    # prices are held against each other by the piece: a pack of ten may have become one of five
    stood = old.price_minor / old.pack if old else _catalog_price(family, line)
    return PriceChange(
        line=line.line,
        family=line.family,
        part=line.part,
        title=family.parts[line.part].title,
        kind=line.kind,
        maker=line.maker,
        price_minor=line.price_minor,
        pack=line.pack,
        before_minor=round(stood),
        by="list" if old else "catalog",
        odd=far_off(line, stood),
    )


def _moves(old: PriceLine | None, line: PriceLine) -> bool:
    return old is None or (old.price_minor, old.pack) != (line.price_minor, line.pack)


def _catalog_price(family: Family, line: PriceLine) -> float:
    part = family.parts[line.part]
    # 0: the catalog knows no used one, so nothing can look odd beside it
    return float(part.used_minor or 0) if line.kind == "used" else float(part.price_minor)


def _refusal(reading: ReadPriceList) -> str:
    lines = "1 line is" if reading.broken == 1 else f"{reading.broken} lines are"
    faults = "; ".join(
        f"line {fault.line}{f', {fault.column}' if fault.column else ''}: {fault.what}"
        for fault in reading.faults[:_FAULTS_IN_A_MESSAGE]
    )
    more = "; ..." if reading.fault_count > _FAULTS_IN_A_MESSAGE else ""
    return f"Nothing was taken in: {lines} broken ({faults}{more})"


def _remedy(whole: bool, reading: ReadPriceList) -> str:
    if whole:
        return (
            "A list that replaces all former prices must be whole: mend the lines, or take it in"
            " without replacing"
        )
    return (
        "Mend them, or say that they are to be left out:"
        f" {len(reading.lines)} lines can be taken in"
    )


def _csv_row(price: Price, currency: str) -> list[str | int]:
    """A price as cells; free text is made safe_cell, so that no table program runs it."""
    line = price.line
    return [
        f"{line.family}/{line.part}",
        safe_cell(line.number),
        safe_cell(line.description),
        # two digits, with a point: the reader of lists takes it in any country
        f"{line.price_minor // 100}.{line.price_minor % 100:02d}",
        currency,
        line.pack,
        line.kind,
        "" if line.lead_days is None else line.lead_days,
        safe_cell(line.maker),
        safe_cell(price.supplier),
        price.at[:10],
    ]
