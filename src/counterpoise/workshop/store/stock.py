"""The shelf in the store: lots of pieces, and the movements that say what happened to them.

A lot is pieces of a part that came in together. Movements are only ever added; a wrong one is undone by its opposite.
The lot is locked while a movement is checked, so that two people cannot reserve the same piece.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, func, select

from counterpoise.workshop.parts.stock import Lot, Move, Movement, Receipt, StockBook
from counterpoise.workshop.store import stock_rows
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import LotRow, MovementRow


class Stock:
    """The stock of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._book = StockBook(-1)

    def book(self) -> StockBook:
        """All lots; read anew only where something moved since."""
        with self._database.reading() as connection:
            mark = connection.execute(
                select(func.coalesce(func.max(MovementRow.number), 0))
            ).scalar_one()
            if mark != self._book.mark:
                self._book = StockBook(mark, tuple(_lots(connection)))
            return self._book

    def receive(self, receipts: Sequence[Receipt], by: str) -> tuple[int, ...]:
        """Put pieces on the shelf, all of them or none, and return the numbers of their lots. Raises InputError."""
        with self._database.writing() as connection:
            return tuple(
                stock_rows.receive(connection, receipt, by, self._database.clock())
                for receipt in receipts
            )

    def move(
        self, moves: Sequence[Move], by: str, expected_last: int | None = None
    ) -> tuple[int, ...]:
        """Put movements down, all of them or none, and return their numbers.

        ``expected_last`` is the last movement of the (one) lot that the writer had seen. Raises InputError,
        NotFoundError, ConflictError.
        """
        with self._database.writing() as connection:
            return tuple(
                stock_rows.move(
                    connection, move, by, self._database.clock(), expected_last=expected_last
                )
                for move in moves
            )

    def undo(self, movement: int, by: str) -> int:
        """Put the opposite of a movement down and return the number of its lot. Raises InputError, NotFoundError."""
        with self._database.writing() as connection:
            return stock_rows.undo(connection, movement, by, self._database.clock())

    def movements(self, lots: Sequence[int]) -> tuple[Movement, ...]:
        """What happened to these lots, newest first."""
        chosen = (
            select(MovementRow).where(MovementRow.lot.in_(lots)).order_by(MovementRow.number.desc())
        )
        with self._database.reading() as connection:
            rows = connection.execute(chosen).all()
        gone = {row.undoes for row in rows}
        return tuple(_movement(row, row.number in gone) for row in rows)


def _movement(row: Any, undone: bool) -> Movement:
    return Movement(
        row.number, row.lot, row.at, row.by, row.kind, row.pieces, row.held, row.job, row.entry, row.place, row.note,
        row.undoes, undone,
    )  # fmt: skip


def _lots(connection: Connection) -> list[Lot]:
    m = MovementRow
    sums = select(m.lot, func.sum(m.pieces), func.min(m.at), func.max(m.number)).group_by(m.lot)
    told = {lot: (pieces, at, last) for lot, pieces, at, last in connection.execute(sums)}
    jobs = (
        select(m.lot, m.job, func.sum(m.held), func.sum(m.pieces))
        .where(m.job.is_not(None))
        .group_by(m.lot, m.job)
    )
    held: dict[int, list[tuple[int, int]]] = {}
    used: dict[int, list[tuple[int, int]]] = {}
    for lot, job, kept, pieces in connection.execute(jobs.order_by(m.lot, m.job)):
        held.setdefault(lot, []).extend([(int(job or 0), kept)] if kept else [])
        used.setdefault(lot, []).extend([(int(job or 0), -pieces)] if pieces else [])
    placed = select(m.lot, m.place).where(m.place != "").order_by(m.number)
    places: dict[int, str] = {row.lot: row.place for row in connection.execute(placed)}
    found = []
    for row in connection.execute(select(LotRow).order_by(LotRow.number)):
        pieces, at, last = told[row.number]
        jobs_of = tuple(held.get(row.number, ())), tuple(used.get(row.number, ()))
        found.append(
            Lot(row.number, row.family, row.item, row.kind, row.cost_minor, row.asked_minor, row.maker, row.model,
                row.donor, row.good, at, places.get(row.number, ""), pieces, *jobs_of, last)
        )  # fmt: skip
    return found
