"""Lots and movements to and from rows, on an open connection that writes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import Connection, Row, func, select

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.money.shelf import Holding, effect
from counterpoise.workshop.jobs.entry_json import read_text
from counterpoise.workshop.people.acting import signed
from counterpoise.workshop.store.database import LARGEST_KEY, LONGEST_NAME
from counterpoise.workshop.store.job_rows import job_exists, new_key, no_job
from counterpoise.workshop.store.tables import LotRow, MovementRow

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from counterpoise.workshop.parts.stock import Move, Receipt

# no part of a machine of a household costs more
_MOST_MINOR = 100_000_00
# it has to fit on a label
_LONGEST = 80
_LONGEST_NOTE = 400
# what a movement leaves open
_FREE: Mapping[str, object] = {
    "at": "", "by": "", "job": None, "entry": None, "place": "", "note": "", "undoes": None,
}  # fmt: skip


def receive(connection: Connection, receipt: Receipt, by: str, now: str) -> int:
    """Add a lot with its first movement and return its number.

    Raises InputError for its money or words, NotFoundError where there is no job of the donor.
    """
    for name in ("cost_minor", "asked_minor"):
        value = getattr(receipt, name)
        if value is not None and not 0 <= value <= _MOST_MINOR:
            raise InputError(
                f"{name}: {value} cannot be", field=name, remedy="Give what one cost, 0 or more"
            )
    if receipt.donor is not None and not job_exists(connection, receipt.donor):
        raise no_job(connection, receipt.donor)
    # the rules of what may happen are the money room's; here they are only put down
    change = effect(Holding(), "received", receipt.count)
    lot = new_key(
        connection,
        LotRow,
        {
            "family": receipt.family,
            "item": receipt.item,
            "kind": receipt.kind,
            "cost_minor": receipt.cost_minor,
            "asked_minor": receipt.asked_minor,
            "maker": short(receipt.maker, "maker"),
            "model": short(receipt.model, "model"),
            "donor": receipt.donor,
            "good": receipt.good,
        },
    )
    words = {
        "place": short(receipt.place, "place"),
        "note": short(receipt.note, "note", _LONGEST_NOTE),
    }
    _insert(connection, lot, "received", change, by, {"at": now, **words})
    return lot


def move(
    connection: Connection,
    move: Move,
    by: str,
    now: str,
    *,
    entry: int | None = None,
    expected_last: int | None = None,
) -> int:
    """Check a movement against the lot as it is now, add it, and return its number.

    ``entry`` is the number of the job's entry that it belongs to. Raises InputError, NotFoundError;
    ConflictError where the lot moved after ``expected_last``.
    """
    # locks the lot: from here on nobody else can reserve the same piece
    holding, last = holding_of(connection, move.lot)
    if expected_last is not None and last != expected_last:
        raise ConflictError(
            "Somebody else moved these pieces meanwhile. Look at the shelf again, then save it.",
            lot=move.lot,
            since=expected_last,
        )
    if move.kind == "moved" and not move.place.strip():
        raise InputError("place: is empty", field="place", remedy="Say where they lie now")
    if move.job is not None and not job_exists(connection, move.job):
        raise no_job(connection, move.job)
    change = effect(holding, move.kind, move.count, move.job)
    # other movements leave the pieces where they lie
    place = short(move.place, "place") if move.kind == "moved" else ""
    note = short(move.note, "note", _LONGEST_NOTE)
    values = {"at": now, "job": move.job, "entry": entry, "place": place, "note": note}
    return _insert(connection, move.lot, move.kind, change, by, values)


def undo(connection: Connection, number: int, by: str, now: str) -> int:
    """Add the opposite of a movement and return the number of its lot.

    Raises NotFoundError; InputError where it was undone, is an undoing, or the pieces are gone.
    """
    row = connection.execute(
        select(MovementRow).where(MovementRow.number == min(number, LARGEST_KEY))
    ).first()
    if row is None:
        raise NotFoundError(
            f"There is no movement {number}", remedy="Each part of the shelf lists its movements."
        )
    # undoing an undoing would hide what happened
    if row.undoes is not None:
        raise InputError(
            "That is an undoing itself", field="movement", remedy="Save again what it took back"
        )
    # locks the lot before it is asked whether somebody else was quicker
    holding, _ = holding_of(connection, row.lot)
    if connection.execute(select(MovementRow.number).where(MovementRow.undoes == number)).first():
        raise InputError(f"Movement {number} was undone already", field="movement")
    # pieces that were used since cannot be un-received
    holding.after(-row.pieces, -row.held, row.job)
    # a lot moved by mistake lies where it lay before
    place = _place_before(connection, row) if row.kind == "moved" else ""
    values = {"at": now, "job": row.job, "place": place, "undoes": number}
    _insert(connection, row.lot, "undone", (-row.pieces, -row.held), by, values)
    return int(row.lot)


def give_back(connection: Connection, job: int, entry: int, by: str, now: str) -> None:
    """Undo what was taken from stock with an entry of a job that is taken back."""
    # pieces that somebody gave back by hand are not given back twice
    undone = select(MovementRow.undoes).where(MovementRow.undoes.is_not(None))
    taken = select(MovementRow.number).where(
        MovementRow.job == job, MovementRow.entry == entry, MovementRow.number.not_in(undone)
    )
    # read to the end first: each undoing writes to the table that is read
    for number in connection.execute(taken).scalars().all():
        undo(connection, number, by, now)


def release_all(connection: Connection, job: int, by: str, now: str) -> None:
    """Let go of what is still held for a job that is over."""
    m = MovementRow
    held = (
        select(m.lot, func.sum(m.held))
        .where(m.job == job)
        .group_by(m.lot)
        .having(func.sum(m.held) > 0)
    )
    for lot, count in connection.execute(held.order_by(m.lot)).all():
        values = {"at": now, "job": job, "note": "the job is closed"}
        _insert(connection, lot, "released", (0, -count), by, values)


def holding_of(connection: Connection, lot: int) -> tuple[Holding, int]:
    """The pieces of a lot and the number of its last movement. Raises NotFoundError.

    Keeps others from moving any until the transaction ends.
    """
    if not 0 < lot <= LARGEST_KEY:
        raise _no_lot(connection, lot)
    # SQLite holds the write lock already; PostgreSQL would let a second writer in without this
    locked = select(LotRow.number).where(LotRow.number == lot).with_for_update()
    if connection.execute(locked).first() is None:
        raise _no_lot(connection, lot)
    m = MovementRow
    pieces, last = connection.execute(
        select(func.sum(m.pieces), func.max(m.number)).where(m.lot == lot)
    ).one()
    held = connection.execute(
        select(m.job, func.sum(m.held)).where(m.lot == lot, m.job.is_not(None)).group_by(m.job)
    ).all()
    by_job = {int(job or 0): int(count) for job, count in held if count}
    return Holding(int(pieces), by_job), int(last)


def _place_before(connection: Connection, row: Row[MovementRow]) -> str:
    m = MovementRow
    before = select(m.place).where(m.lot == row.lot, m.place != "", m.number < row.number)
    return connection.execute(before.order_by(m.number.desc()).limit(1)).scalar() or "no place"


def _insert(
    connection: Connection, lot: int, kind: str, change: Sequence[int], by: str,
    values: Mapping[str, object],
) -> int:  # fmt: skip
    """Add a movement by ``change`` (pieces, held) and return its number."""
    pieces, held = change
    name = read_text(signed(by), "by")[:LONGEST_NAME]
    row = {**_FREE, **values, "by": name, "lot": lot, "kind": kind, "pieces": pieces, "held": held}
    return new_key(connection, MovementRow, row)


def short(text: str, name: str, longest: int = _LONGEST) -> str:
    """A short text that can be stored and shown, in one line. Raises InputError."""
    kept = " ".join(read_text(text, name).split())
    if len(kept) > longest or not kept.isprintable():
        raise InputError(
            f"{name}: is too long or cannot be shown", field=name, remedy=f"Keep it under {longest}"
        )
    return kept


def _no_lot(connection: Connection, lot: int) -> NotFoundError:
    last = connection.execute(select(func.max(LotRow.number))).scalar()
    remedy = f"The lots are numbered from 1 to {last}." if last else "Nothing lies there yet."
    return NotFoundError(f"There is no lot {lot} on the shelf", remedy=remedy)
