"""Stock in the store: lots of pieces, and the movements that say what happened to them.

A lot is pieces of a part that came in together. Movements are only ever added; a wrong one is
undone by its opposite. The lot is locked while a movement is checked, so that two people cannot
reserve the same piece.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, Row, func, select

from counterpoise.workshop.parts.stock import Lot, Move, Movement, Receipt, StockBook
from counterpoise.workshop.store import stock_rows
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import LotRow, MovementRow

_Pieces = dict[int, list[tuple[int, int]]]  # by lot: (job, pieces)


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
            # movements are only added, so the number of the last one tells whether anything is new
            if mark != self._book.mark:
                book = StockBook(mark, tuple(_lots(connection)))
                # what may still be taken back must not be kept under a number given anew
                if self._database.unsettled:
                    return book
                self._book = book
            # handed to several threads, which is safe: a book is never changed, only replaced
            return self._book

    def receive(self, receipts: Sequence[Receipt], by: str) -> tuple[int, ...]:
        """Put pieces in stock, all of them or none, and return the numbers of their lots.

        Raises InputError; NotFoundError where there is no job of the donor's number.
        """
        with self._database.writing() as connection:
            return tuple(
                stock_rows.receive(connection, receipt, by, self._database.clock())
                for receipt in receipts
            )

    def move(
        self, moves: Sequence[Move], by: str, expected_last: int | None = None
    ) -> tuple[int, ...]:
        """Put movements down, all of them or none, and return their numbers.

        ``expected_last`` is the last movement of the (one) lot that the writer had seen. Raises
        InputError, NotFoundError, ConflictError.
        """
        with self._database.writing() as connection:
            return tuple(
                stock_rows.move(
                    connection, move, by, self._database.clock(), expected_last=expected_last
                )
                for move in moves
            )

    def undo(self, movement: int, by: str) -> int:
        """Put the opposite of a movement down and return the number of its lot.

        Raises InputError where it was undone already or the pieces are gone, NotFoundError.
        """
        with self._database.writing() as connection:
            return stock_rows.undo(connection, movement, by, self._database.clock())

    def movements(self, lots: Sequence[int]) -> tuple[Movement, ...]:
        """What happened to these lots, newest first; empty where there is no such lot."""
        chosen = (
            select(MovementRow).where(MovementRow.lot.in_(lots)).order_by(MovementRow.number.desc())
        )
        with self._database.reading() as connection:
            rows = connection.execute(chosen).all()
        # the undoing is a movement of the same lot, so it is among these rows
        gone = {row.undoes for row in rows}
        return tuple(_movement(row, row.number in gone) for row in rows)


def _movement(row: Row[MovementRow], undone: bool) -> Movement:
    return Movement(
        number=row.number,
        lot=row.lot,
        at=row.at,
        by=row.by,
        kind=row.kind,
        pieces=row.pieces,
        held=row.held,
        job=row.job,
        entry=row.entry,
        place=row.place,
        note=row.note,
        undoes=row.undoes,
        undone=undone,
    )


def _lots(connection: Connection) -> list[Lot]:
    """All lots, oldest first, in four queries whatever their number."""
    m = MovementRow
    sums = select(m.lot, func.sum(m.pieces), func.min(m.at), func.max(m.number)).group_by(m.lot)
    # no lot without a movement: the one that brought its pieces in
    totals = {lot: (pieces, at, last) for lot, pieces, at, last in connection.execute(sums)}
    held, used = _by_job(connection)
    placed = select(m.lot, m.place).where(m.place != "").order_by(m.number)
    # the last place named is where they lie
    places: dict[int, str] = {row.lot: row.place for row in connection.execute(placed)}
    lots = []
    for row in connection.execute(select(LotRow).order_by(LotRow.number)):
        pieces, at, last = totals[row.number]
        lots.append(
            Lot(
                number=row.number,
                family=row.family,
                item=row.item,
                kind=row.kind,
                cost_minor=row.cost_minor,
                asked_minor=row.asked_minor,
                maker=row.maker,
                model=row.model,
                donor=row.donor,
                good=row.good,
                at=at,
                place=places.get(row.number, ""),
                pieces=pieces,
                held=tuple(held.get(row.number, ())),
                used=tuple(used.get(row.number, ())),
                last=last,
            )
        )
    return lots


def _by_job(connection: Connection) -> tuple[_Pieces, _Pieces]:
    """(held, used) pieces of each lot, by job."""
    m = MovementRow
    jobs = (
        select(m.lot, m.job, func.sum(m.held), func.sum(m.pieces))
        .where(m.job.is_not(None))
        .group_by(m.lot, m.job)
    )
    held: _Pieces = {}
    used: _Pieces = {}
    for lot, job, kept, pieces in connection.execute(jobs.order_by(m.lot, m.job)):
        # a job that let everything go holds none, so it is not listed
        held.setdefault(lot, []).extend([(int(job or 0), kept)] if kept else [])
        # what a job used is missing from the shelf, so its pieces count below zero
        used.setdefault(lot, []).extend([(int(job or 0), -pieces)] if pieces else [])
    return held, used
