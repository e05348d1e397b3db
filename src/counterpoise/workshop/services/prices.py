"""Taking a supplier's list in: looked at first, then all of it or nothing, unless told to leave out what is broken."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entry_json import read_text
from counterpoise.workshop.parts.csv_cells import harmless
from counterpoise.workshop.parts.csv_sheet import SEPARATORS
from counterpoise.workshop.parts.price_list import (
    Fault,
    Habits,
    PriceLine,
    Reading,
    far_off,
    read_list,
)
from counterpoise.workshop.parts.prices import PriceBook, PriceList
from counterpoise.workshop.services.workshop import Workshop

MOST_SHOWN = 200
_LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Sent:
    """A list as it was sent: the supplier it is by, the name of its file, its bytes, and how to read it."""

    supplier: str
    file: str
    data: bytes
    habits: Habits = field(default_factory=Habits)


@dataclass(frozen=True, slots=True)
class Change:
    """What a line would change. ``before_minor``: price of one that stood, else the catalog's (``by`` says which).

    ``odd``: so far from it that the comma may have slipped.
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
class Preview:
    """A list as it would be taken in; nothing is stored. ``last`` is the last list the store had.

    ``changes`` and ``faults`` are the first of their counts; those that look odd come first.
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
    faults: tuple[Fault, ...]
    changes: tuple[Change, ...]
    last: int


def preview(workshop: Workshop, sent: Sent) -> Preview:
    """Look at a list; stores nothing. Raises InputError where the whole cannot be read."""
    book = workshop.prices.book()
    supplier = _supplier(book, sent.supplier)
    reading = _read(workshop, sent, book, supplier)
    before = book.before(supplier)
    changes = [_change(workshop.families, line, before) for line in reading.lines]
    news = sum(line.same not in before for line in reading.lines)
    moved = [
        one
        for one, line in zip(changes, reading.lines, strict=True)
        if _moves(before.get(line.same), line)
    ]
    return Preview(
        supplier, sent.file, workshop.settings().currency, reading.encoding, SEPARATORS[reading.separator],
        {",": "comma", ".": "point"}.get(reading.decimal, ""), reading.columns, len(reading.lines), news,
        len(moved) - news, len(changes) - len(moved), sum(one.odd for one in changes), reading.not_ours,
        reading.broken, reading.fault_count, reading.faults[:MOST_SHOWN],
        tuple(sorted(moved, key=lambda one: not one.odd)[:MOST_SHOWN]), book.mark,
    )  # fmt: skip


def take_in(
    workshop: Workshop,
    sent: Sent,
    by: str,
    *,
    leave_out: bool = False,
    whole: bool = False,
    expected_last: int | None = None,
) -> PriceList:
    """Take a list in, in one transaction. Where a line is broken, nothing, unless told to ``leave_out`` such lines.

    ``whole``: it replaces the supplier's former prices, also those it does not name; then no line may be broken.
    Raises InputError, ConflictError.
    """
    book = workshop.prices.book()
    supplier = _supplier(book, sent.supplier)
    reading = _read(workshop, sent, book, supplier)
    if reading.broken and (whole or not leave_out):
        raise InputError(_refusal(reading), field="file", remedy=_mend(whole, reading))
    if not reading.lines:
        raise InputError("Nothing was taken in: no line is about a part of ours", field="part",
                         remedy="Put the ids of our parts into a column of their own")  # fmt: skip
    return workshop.prices.add(
        supplier, read_text(sent.file, "file"), reading.lines, by, left_out=reading.broken, whole=whole,
        expected_last=expected_last,
    )  # fmt: skip


def _read(workshop: Workshop, sent: Sent, book: PriceBook, supplier: str) -> Reading:
    return read_list(
        sent.data,
        workshop.families,
        workshop.settings().currency,
        sent.habits,
        book.known_numbers(supplier),
    )


def _supplier(book: PriceBook, given: str) -> str:
    """The supplier's name as it was written before, where it was."""
    name = " ".join(read_text(given, "supplier").split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise InputError("supplier: a short name is needed", field="supplier",
                         remedy=f"Say whose list it is, in {_LONGEST_NAME} letters")  # fmt: skip
    return next(
        (one.supplier for one in book.lists if one.supplier.casefold() == name.casefold()), name
    )


def _change(
    families: Mapping[str, Family], line: PriceLine, before: Mapping[tuple[str, ...], PriceLine]
) -> Change:
    part, old = families[line.family].parts[line.part], before.get(line.same)
    stood = old.price_minor / old.pack if old else _catalog_price(families[line.family], line)
    return Change(
        line.line, line.family, line.part, part.title, line.kind, line.maker, line.price_minor, line.pack, round(stood),
        "list" if old else "catalog", far_off(line, stood),
    )  # fmt: skip


def _moves(old: PriceLine | None, line: PriceLine) -> bool:
    return old is None or (old.price_minor, old.pack) != (line.price_minor, line.pack)


def _catalog_price(family: Family, line: PriceLine) -> float:
    part = family.parts[line.part]
    return float(part.used_minor or 0) if line.kind == "used" else float(part.price_minor)


def _refusal(reading: Reading) -> str:
    lines = "1 line is" if reading.broken == 1 else f"{reading.broken} lines are"
    told = "; ".join(
        f"line {f.line}{f', {f.column}' if f.column else ''}: {f.what}" for f in reading.faults[:3]
    )
    return (
        f"Nothing was taken in: {lines} broken ({told}{'; ...' if reading.fault_count > 3 else ''})"
    )


def _mend(whole: bool, reading: Reading) -> str:
    if whole:
        return "A list that replaces all former prices must be whole: mend the lines, or take it in without replacing"
    return f"Mend them, or say that they are to be left out: {len(reading.lines)} lines can be taken in"


def as_csv(workshop: Workshop) -> str:
    """The prices that stand, as a table that can be read in again; no cell is run by a table program."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["part", "number", "description", "price", "currency", "pack", "kind", "lead_days", "maker",
                     "supplier", "as_of"])  # fmt: skip
    currency = workshop.settings().currency
    for price in workshop.prices.book().prices:
        line = price.line
        if price.stands:
            writer.writerow(
                [f"{line.family}/{line.part}", harmless(line.number), harmless(line.description),
                 f"{line.price_minor // 100}.{line.price_minor % 100:02d}", currency, line.pack, line.kind,
                 "" if line.lead_days is None else line.lead_days, harmless(line.maker), harmless(price.supplier),
                 price.at[:10]]
            )  # fmt: skip
    return out.getvalue()
