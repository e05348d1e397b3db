"""Recordings that a phone sends piece by piece: pieces come twice, late, in any order, after a pause of days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, func, insert, select, update

from counterpoise.errors import ConflictError, InputError
from counterpoise.workshop.store.tables import CapturePartRow, CaptureRow

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_PARTS = 2000
MOST_OPEN = 40
KEPT_DAYS = 30


@dataclass(frozen=True, slots=True)
class Arrived:
    """What has come of a recording: the numbers of its pieces, and the id of the whole where it is complete."""

    parts: tuple[int, ...] = ()
    recording: str = ""


def keep_part(
    connection: Connection, job: int, capture: str, part: tuple[int, bytes], now: str
) -> None:
    """Keep a piece (number, lines). One that has come before is left as it is; a different one is a conflict."""
    if _begun(connection, job, capture, now).recording:
        return  # a late copy of a piece of what is whole already
    number, data = part
    here = (CapturePartRow.capture == capture) & (CapturePartRow.part == number)
    known = connection.execute(select(CapturePartRow.data).where(here)).scalar()
    if known is None:
        connection.execute(insert(CapturePartRow).values(capture=capture, part=number, data=data))
    elif known != data:
        raise ConflictError(
            f"Piece {number} of this recording came before, with other readings in it."
        )


def arrived(connection: Connection, job: int, capture: str) -> Arrived:
    """Return what has come; nothing where nobody began it."""
    row = connection.execute(
        select(CaptureRow).where((CaptureRow.id == capture) & (CaptureRow.job == job))
    ).first()
    if row is None:
        return Arrived()
    numbers = (
        select(CapturePartRow.part)
        .where(CapturePartRow.capture == capture)
        .order_by(CapturePartRow.part)
    )
    return Arrived(tuple(connection.execute(numbers).scalars()), row.recording)


def lines(connection: Connection, capture: str) -> bytes:
    """Return all pieces, one after the other."""
    ordered = (
        select(CapturePartRow.data)
        .where(CapturePartRow.capture == capture)
        .order_by(CapturePartRow.part)
    )
    return b"".join(connection.execute(ordered).scalars())


def complete(connection: Connection, capture: str, recording: str) -> None:
    """Say that the recording is whole; its pieces are let go."""
    connection.execute(delete(CapturePartRow).where(CapturePartRow.capture == capture))
    connection.execute(
        update(CaptureRow).where(CaptureRow.id == capture).values(recording=recording)
    )


def waiting(connection: Connection, job: int) -> Mapping[str, int]:
    """Return the captures of a job that are not whole, with how many pieces have come of each."""
    counted = (
        select(CaptureRow.id, func.count(CapturePartRow.part))
        .join(CapturePartRow, CapturePartRow.capture == CaptureRow.id)
        .where((CaptureRow.job == job) & (CaptureRow.recording == ""))
        .group_by(CaptureRow.id)
        .order_by(CaptureRow.id)
    )
    return {row[0]: row[1] for row in connection.execute(counted)}


def _begun(connection: Connection, job: int, capture: str, now: str) -> CaptureRow:
    """Return the row of a capture; its first piece begins it."""
    row = connection.execute(select(CaptureRow).where(CaptureRow.id == capture)).first()
    if row is None:
        _make_room(connection, job, now)
        connection.execute(
            insert(CaptureRow).values(id=capture, job=job, begun_at=now, recording="")
        )
        row = connection.execute(select(CaptureRow).where(CaptureRow.id == capture)).one()
    if row.job != job:
        raise ConflictError("This recording belongs to another job.")
    return row  # type: ignore[return-value]  # a row with the same columns


def _make_room(connection: Connection, job: int, now: str) -> None:
    """Let go of what was begun long ago and never finished; refuse a flood of new ones."""
    oldest = (datetime.fromisoformat(now).astimezone(UTC) - timedelta(days=KEPT_DAYS)).strftime(
        "%Y-%m-%dT%H:%M:%SZ"
    )
    stale = (
        select(CaptureRow.id)
        .where((CaptureRow.begun_at < oldest) & (CaptureRow.recording == ""))
        .scalar_subquery()
    )
    connection.execute(delete(CapturePartRow).where(CapturePartRow.capture.in_(stale)))
    connection.execute(delete(CaptureRow).where(CaptureRow.id.in_(stale)))
    is_open = (CaptureRow.job == job) & (CaptureRow.recording == "")
    if (
        connection.execute(select(func.count()).select_from(CaptureRow).where(is_open)).scalar_one()
        >= MOST_OPEN
    ):
        raise InputError(
            f"{MOST_OPEN} recordings of this job are unfinished already",
            field="capture",
            remedy="Finish or throw away those on the phones first",
        )
