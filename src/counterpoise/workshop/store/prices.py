"""Suppliers' prices in the store: each list is kept as it came in, dated, and never changed.

A price stands until a newer list of the same supplier gives another for the same thing, or, being
whole, leaves it out. Which prices stand is read off the lists, so that taking one back is no more
than a row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import Connection, func, insert, select

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.workshop.parts.price_list import PriceLine
from counterpoise.workshop.parts.prices import Price, PriceBook, PriceList
from counterpoise.workshop.people.acting import signed
from counterpoise.workshop.store.database import LONGEST_NAME, Database
from counterpoise.workshop.store.job_rows import new_key
from counterpoise.workshop.store.tables import PriceListRow, PriceRow

# rows that one insertion carries: a database takes only so many values at once
_AT_ONCE = 500


class Prices:
    """The suppliers' lists of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._book = PriceBook(-1)

    def book(self) -> PriceBook:
        """All lists and prices; read anew only where a list came in since."""
        with self._database.reading() as connection:
            mark = _last(connection)
            # lists are only added, so the number of the last one tells whether anything is new
            if mark != self._book.mark:
                book = _read(connection, mark)
                # what may still be taken back must not be kept under a number given anew
                if self._database.unsettled:
                    return book
                self._book = book
            # handed to several threads, which is safe: a book is never changed, only replaced
            return self._book

    def add(
        self, supplier: str, file: str, lines: Sequence[PriceLine], by: str, *, left_out: int = 0,
        whole: bool = False, expected_last: int | None = None,
    ) -> PriceList:  # fmt: skip
        """Take a list in, all of it in one transaction.

        ``left_out`` counts the lines that had faults; ``whole``: it replaces the supplier's former
        lists. ``expected_last`` is the number of the last list the writer had seen; raises
        ConflictError where another came in since.
        """
        # one time for the whole list, before the lock
        now, name, file_name = (
            self._database.clock(),
            signed(by)[:LONGEST_NAME],
            file[:LONGEST_NAME],
        )
        with self._database.writing() as connection:
            last = _last(connection)
            # what a preview called a change may be none any more
            if expected_last is not None and last != expected_last:
                raise ConflictError(
                    "Another price list came in meanwhile."
                    " Look at the preview again, then take it in."
                )
            head = {
                "at": now, "by": name, "supplier": supplier, "file": file_name, "whole": whole,
                "left_out": left_out,
            }  # fmt: skip
            number = new_key(connection, PriceListRow, head)
            rows = [_row(number, line) for line in lines]
            for start in range(0, len(rows), _AT_ONCE):
                connection.execute(insert(PriceRow), rows[start : start + _AT_ONCE])
        return PriceList(number, now, name, supplier, file_name, whole, len(lines), left_out)

    def take_back(self, number: int, by: str) -> None:
        """Take a list back: what stood before it stands again. Raises NotFoundError, InputError."""
        with self._database.writing() as connection:
            lists = {known.number: known for known in _read(connection, 0).lists}
            if number not in lists:
                raise NotFoundError(
                    f"There is no price list {number}",
                    remedy=f"The lists taken in are numbered {', '.join(map(str, lists))}."
                    if lists
                    else "None has been taken in yet.",
                )
            if lists[number].gone:
                raise InputError(f"Price list {number} was taken back already", field="list")
            head = {
                "at": self._database.clock(), "by": signed(by)[:LONGEST_NAME],
                "supplier": lists[number].supplier, "file": "", "whole": False, "left_out": 0,
                "takes_back": number,
            }  # fmt: skip
            new_key(connection, PriceListRow, head)


def _last(connection: Connection) -> int:
    return connection.execute(select(func.coalesce(func.max(PriceListRow.number), 0))).scalar_one()


def _row(number: int, line: PriceLine) -> dict[str, object]:
    return {
        "list": number,
        "line": line.line,
        "family": line.family,
        "part": line.part,
        "kind": line.kind,
        "price_minor": line.price_minor,
        "pack": line.pack,
        "lead_days": line.lead_days,
        "maker": line.maker,
        "number": line.number,
        "description": line.description,
    }


def _read(connection: Connection, mark: int) -> PriceBook:
    heads = connection.execute(select(PriceListRow).order_by(PriceListRow.number)).all()
    # all rows are read before any is judged: the one that takes a list back comes later
    gone = {head.takes_back for head in heads if head.takes_back is not None}
    lines: dict[int, list[PriceLine]] = {head.number: [] for head in heads}
    for row in connection.execute(select(PriceRow).order_by(PriceRow.list, PriceRow.line)):
        lines[row.list].append(
            PriceLine(
                line=row.line,
                family=row.family,
                part=row.part,
                kind=row.kind,
                price_minor=row.price_minor,
                pack=row.pack,
                lead_days=row.lead_days,
                maker=row.maker,
                number=row.number,
                description=row.description,
            )
        )
    lists = tuple(
        PriceList(
            number=head.number,
            at=head.at,
            by=head.by,
            supplier=head.supplier,
            file=head.file,
            whole=head.whole,
            lines=len(lines[head.number]),
            left_out=head.left_out,
            gone=head.number in gone,
        )
        for head in heads
        # the row that takes a list back is no list
        if head.takes_back is None
    )
    standing = stand(lists, lines)
    prices = tuple(
        Price(known.number, known.at, known.supplier, line, (known.number, line.line) in standing)
        for known in lists
        for line in lines[known.number]
    )
    return PriceBook(mark, lists, prices)


def stand(
    lists: Iterable[PriceList], lines: Mapping[int, Sequence[PriceLine]]
) -> set[tuple[int, int]]:
    """The prices that hold, as (list, line): the newest of each supplier for each thing.

    ``lists`` are oldest first.
    """
    now: dict[str, dict[tuple[str, ...], tuple[int, int]]] = {}
    for known in lists:
        if known.gone:
            continue
        # a whole list leaves out what is no longer sold
        held = {} if known.whole else now.get(known.supplier, {})
        now[known.supplier] = held | {
            line.same: (known.number, line.line) for line in lines[known.number]
        }
    # suppliers stand side by side: the cheapest of them is chosen elsewhere
    return {key for held in now.values() for key in held.values()}
