"""Recordings that a phone sends piece by piece.

Pieces come twice, late, in any order, after a pause of days.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, delete, func, insert, select, update

from counterpoise.errors import ConflictError, InputError
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import CapturePartRow, CaptureRow

# a piece holds some seconds: hours of a spin
MOST_PARTS = 2000
# more than a workshop has phones; a program that begins ever new ones is stopped
MOST_OPEN = 40
# long enough for a phone that lay in a drawer over the holidays
KEPT_DAYS = 30


@dataclass(frozen=True, slots=True)
class UploadProgress:
    """What has come of a recording.

    ``parts`` are the numbers of its pieces, ``recording`` the id of the whole once it is complete.
    """

    parts: tuple[int, ...] = ()
    recording: str = ""


class Uploads:
    """The recordings that phones are sending to a store, by the id the phone gave each."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep_part(self, job: int, capture: str, part: tuple[int, bytes]) -> None:
        """Keep a piece (number, lines) of a recording. Raises ConflictError, InputError."""
        with self._database.writing() as connection:
            _keep_part(connection, job, capture, part, self._database.clock())

    def arrived(self, job: int, capture: str) -> UploadProgress:
        """Return which pieces have come, and the recording once it is whole."""
        with self._database.reading() as connection:
            return _progress(connection, job, capture)

    def lines(self, capture: str) -> bytes:
        """Return the lines of all pieces that have come, in the order of their numbers."""
        with self._database.reading() as connection:
            return _content(connection, capture)

    def complete(self, capture: str, recording: str) -> None:
        """Say which recording it has become; its pieces are let go."""
        with self._database.writing() as connection:
            _complete(connection, capture, recording)

    def came(self, job: int, recording: str) -> None:
        """Note that a whole recording came to a job, as a file; noted once."""
        # named by both, where a phone draws a name of its own
        key = hashlib.sha256(f"{job} {recording}".encode()).hexdigest()[:32]
        row = {"id": key, "job": job, "begun_at": self._database.clock(), "recording": recording}
        with self._database.writing() as connection:
            known = select(CaptureRow.id).where(CaptureRow.id == key)
            if connection.execute(known).first() is None:
                connection.execute(insert(CaptureRow).values(row))

    def came_to(self, job: int, recording: str) -> bool:
        """Whether a whole recording came to this very job."""
        same = select(CaptureRow.id).where(
            (CaptureRow.job == job) & (CaptureRow.recording == recording)
        )
        with self._database.reading() as connection:
            return connection.execute(same).first() is not None

    def unfinished(self, job: int) -> Mapping[str, int]:
        """Return the unfinished recordings of a job, with how many pieces of each have come."""
        with self._database.reading() as connection:
            return _unfinished(connection, job)


def _keep_part(
    connection: Connection, job: int, capture: str, part: tuple[int, bytes], now: str
) -> None:
    if _begun(connection, job, capture, now).recording:
        return  # a late copy of a piece of what is whole already: a phone repeats itself
    number, data = part
    here = (CapturePartRow.capture == capture) & (CapturePartRow.part == number)
    known = connection.execute(select(CapturePartRow.data).where(here)).scalar()
    if known is None:
        connection.execute(insert(CapturePartRow).values(capture=capture, part=number, data=data))
    # the phone numbered two recordings alike, or somebody else sends: neither is to be mixed in
    elif known != data:
        raise ConflictError(
            f"Piece {number} of this recording came before, with other readings in it."
        )


def _progress(connection: Connection, job: int, capture: str) -> UploadProgress:
    row = connection.execute(
        select(CaptureRow).where((CaptureRow.id == capture) & (CaptureRow.job == job))
    ).first()
    if row is None:
        return UploadProgress()
    numbers = (
        select(CapturePartRow.part)
        .where(CapturePartRow.capture == capture)
        .order_by(CapturePartRow.part)
    )
    return UploadProgress(tuple(connection.execute(numbers).scalars()), row.recording)


def _content(connection: Connection, capture: str) -> bytes:
    # by number, not by arrival: a phone sends again what it did not hear acknowledged
    ordered = (
        select(CapturePartRow.data)
        .where(CapturePartRow.capture == capture)
        .order_by(CapturePartRow.part)
    )
    return b"".join(connection.execute(ordered).scalars())


def _complete(connection: Connection, capture: str, recording: str) -> None:
    # the row of the upload stays, so that a late copy of a piece is known as late
    connection.execute(delete(CapturePartRow).where(CapturePartRow.capture == capture))
    connection.execute(
        update(CaptureRow).where(CaptureRow.id == capture).values(recording=recording)
    )


def _unfinished(connection: Connection, job: int) -> Mapping[str, int]:
    # an upload of which no piece has come has no row
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
        # cleared when somebody begins anew: nothing here runs by itself at night
        _make_room(connection, job, now)
        connection.execute(
            insert(CaptureRow).values(id=capture, job=job, begun_at=now, recording="")
        )
        row = connection.execute(select(CaptureRow).where(CaptureRow.id == capture)).one()
    # the id is the phone's own; a copied link must not write into another job
    if row.job != job:
        raise ConflictError("This recording belongs to another job.")
    return row  # type: ignore[return-value]  # a row with the same columns


def _make_room(connection: Connection, job: int, now: str) -> None:
    """Let go of what was begun long ago and never finished; refuse a flood of new ones."""
    # times are ISO 8601 in UTC, so they compare as texts
    oldest = (datetime.fromisoformat(now).astimezone(UTC) - timedelta(days=KEPT_DAYS)).strftime(
        "%Y-%m-%dT%H:%M:%SZ"
    )
    stale = (
        select(CaptureRow.id)
        .where((CaptureRow.begun_at < oldest) & (CaptureRow.recording == ""))
        .scalar_subquery()
    )
    # pieces before uploads: they point at them
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
