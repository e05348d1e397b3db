"""The workshop's store: jobs as append-only entries, photos, recordings, settings; in SQLite or by database URL.

What a method returned is on disk. Bodies are checked here for form only; :mod:`counterpoise.workshop.jobs.entry_checks` checks
them against the catalog first.
"""

from __future__ import annotations

import sqlite3
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Self

from sqlalchemy import Connection, func, select
from sqlalchemy.exc import DBAPIError

from counterpoise.errors import ConflictError, InputError, StoreError
from counterpoise.workshop.jobs.entries import Body, Closed, Entry, Intake, Job, Retraction
from counterpoise.workshop.jobs.entry_checks import check_retraction
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json, read_text
from counterpoise.workshop.jobs.job_file import (
    MOST_RECORDING_BYTES,
    NOTHING_TOLD,
    Facts,
    Parcel,
    digest,
    parcel_from_json,
    parcel_to_json,
    photo_ids,
    recording_ids,
)
from counterpoise.workshop.jobs.photos import clean_photo
from counterpoise.workshop.jobs.settings_checks import changed
from counterpoise.workshop.parts.stock import Move
from counterpoise.workshop.store import job_rows as rows
from counterpoise.workshop.store import stock_rows as shelf_rows
from counterpoise.workshop.store import uploads as captures
from counterpoise.workshop.store.engine import open_engine
from counterpoise.workshop.store.price_rows import Prices
from counterpoise.workshop.store.stock import Shelf
from counterpoise.workshop.store.tables import EntryRow, PhotoRow, RecordingRow

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path
    from types import TracebackType

    from counterpoise.workshop.jobs.settings import Settings

_LINE_KINDS = (
    "intake",
    "decision",
    "closed",
    "retraction",
)  # all that a line of the list of jobs is made of


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in the list of jobs. Times are UTC, ISO 8601; ``ending`` and ``decision`` are empty where there is none."""

    number: int
    title: str
    family: str
    owner: str
    opened_at: str
    last_at: str
    entries: int
    open: bool
    decision: str = ""
    ending: str = ""


def utc_now() -> str:
    """Return the time now, UTC, ISO 8601 to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Store:
    """A workshop's store. ``where`` is a file or a database URL; ``clock`` gives the time put on entries.

    Opening migrates the database where needed. Raises StoreError where it cannot be opened. Threads may share a store.
    """

    def __init__(
        self, where: str | Path = "counterpoise.db", clock: Callable[[], str] = utc_now
    ) -> None:
        self._clock = clock
        self._engine = open_engine(where)
        self.prices = Prices(self._reading, self._writing, clock)
        self.shelf = Shelf(self._reading, self._writing, clock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    def now(self) -> str:
        """Return the time that goes on an entry written now."""
        return self._clock()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    # --- jobs ---

    def create_job(self, intake: Intake, by: str = "") -> Job:
        """Open a job with its intake as entry 1."""
        return self.add(Parcel((Entry(1, self._clock(), by, intake),)))

    def append(
        self, job_number: int, body: Body, by: str = "", expected_last: int | None = None,
        taken: Sequence[tuple[int, int]] = (),
    ) -> Entry:  # fmt: skip
        """Add an entry to a job and return it once it is on disk.

        ``expected_last`` is the number of the last entry the writer had seen; where another has been written since,
        ConflictError is raised and nothing stored. ``taken``: (lot, pieces) used from the shelf; they go back where the
        entry is taken back. What is still reserved for a job that is closed is let go.
        """
        kept = _sound(body)
        with self._writing() as connection:
            last = rows.last_number(connection, job_number)
            if expected_last is not None and expected_last != last:
                raise ConflictError(
                    f"Somebody else wrote to job {job_number} in between: its last entry is {last}, not"
                    f" {expected_last}."
                    " Look at the job again, then record."
                )
            entry = Entry(last + 1, self._clock(), read_text(by, "by")[:200], kept)
            if isinstance(kept, Retraction):
                check_retraction(rows.read_job(connection, job_number), kept.entry)
            rows.check_files(connection, kept)
            rows.insert_entries(connection, job_number, [entry])
            _on_the_shelf(connection, job_number, entry, taken)
        return entry

    def retract(self, job_number: int, entry: int, why: str = "", by: str = "") -> Entry:
        """Take back an earlier entry. Raises NotFoundError where there is none, InputError where it must stay."""
        return self.append(job_number, Retraction(entry, why), by)

    def job(self, number: int) -> Job:
        """Return a job with all its entries. Raises NotFoundError."""
        with self._reading() as connection:
            return rows.read_job(connection, number)

    def jobs(self) -> list[JobLine]:
        """Return the list of jobs, newest first."""
        spans = select(
            EntryRow.job, func.min(EntryRow.at), func.max(EntryRow.at), func.max(EntryRow.number)
        ).group_by(EntryRow.job)
        telling = (
            select(EntryRow)
            .where(EntryRow.kind.in_(_LINE_KINDS))
            .order_by(EntryRow.job, EntryRow.number)
        )
        with self._reading() as connection:
            extents = {
                number: (first, last, count)
                for number, first, last, count in connection.execute(spans)
            }
            told: dict[int, list[Entry]] = {number: [] for number in extents}
            for row in connection.execute(telling):
                told[row.job].append(rows.read_entry(row))
        return [
            _line(Job(number, tuple(told[number])), *extents[number])
            for number in sorted(told, reverse=True)
        ]

    # --- a job in and out ---

    def export_job(self, number: int) -> dict[str, Any]:
        """Return a job with its photos and recordings as plain JSON values."""
        with self._reading() as connection:
            job = rows.read_job(connection, number)
            photos = {
                key: rows.read_photo(connection, key)
                for entry in job.entries
                for key in photo_ids(entry.body)
            }
            named = [key for entry in job.entries for key in recording_ids(entry.body)]
            facts = {key: rows.read_facts(connection, key) for key in named}
            named += [each.sound for each in facts.values() if each.sound]
            spins = {key: rows.read_recording(connection, key) for key in named}
        return parcel_to_json(job, Parcel(job.entries, photos, spins, facts))

    def import_job(self, data: object) -> Job:
        """Take in an exported job under a new number: all, or nothing with an InputError that lists the mistakes."""
        return self.add(parcel_from_json(data))

    def add(self, parcel: Parcel) -> Job:
        """Store a whole job under a new number, in one transaction."""
        return self.add_all([parcel])[0]

    def add_all(self, parcels: Iterable[Parcel]) -> list[Job]:
        """Store several whole jobs in one transaction: all or none."""
        with self._writing() as connection:
            return [self._add(connection, parcel) for parcel in parcels]

    def _add(self, connection: Connection, parcel: Parcel) -> Job:
        now = self._clock()
        rows.insert_files(
            connection, PhotoRow, {key: {"data": data} for key, data in parcel.photos.items()}, now
        )
        spins = {
            key: {"name": name, "data": data} for key, (name, data) in parcel.recordings.items()
        }
        rows.insert_files(connection, RecordingRow, spins, now)
        for key, told in parcel.facts.items():
            rows.write_facts(connection, key, told)
        entries = [
            Entry(e.number, e.at, read_text(e.by, "by")[:200], _sound(e.body))
            for e in parcel.entries
        ]
        number = rows.new_job(connection, entries[0].at)
        for entry in entries:
            rows.check_files(connection, entry.body)
        rows.insert_entries(connection, number, entries)
        return Job(number, tuple(entries))

    # --- photos and recordings ---

    def add_photo(self, data: bytes) -> str:
        """Keep a photo without its metadata and return its id. Raises InputError where it is no usable photo."""
        cleaned = clean_photo(data)
        with self._writing() as connection:
            rows.insert_files(
                connection, PhotoRow, {digest(cleaned): {"data": cleaned}}, self._clock()
            )
        return digest(cleaned)

    def photo(self, photo_id: str) -> bytes:
        """Return a photo as JPEG. Raises NotFoundError."""
        with self._reading() as connection:
            return rows.read_photo(connection, photo_id)

    def add_recording(self, name: str, data: bytes, facts: Facts = NOTHING_TOLD) -> str:
        """Keep the recording of a spin as it is and return its id. ``name`` is the name of its file."""
        if not data:
            raise InputError(
                "The recording is empty", field="recording", remedy="Send the file again"
            )
        if len(data) > MOST_RECORDING_BYTES:
            size = (
                f"{len(data) / 1e6:.0f} MB, at most {MOST_RECORDING_BYTES / 1e6:.0f} MB are taken"
            )
            raise InputError(
                f"The recording has {size}",
                field="recording",
                remedy="Cut it to the spin, or pack it (gz)",
            )
        named = {"name": read_text(name, "name")[:200], "data": data}
        with self._writing() as connection:
            rows.insert_files(connection, RecordingRow, {digest(data): named}, self._clock())
            rows.write_facts(connection, digest(data), facts)
        return digest(data)

    def recording(self, recording_id: str) -> tuple[str, bytes]:
        """Return a recording as (name, bytes). Raises NotFoundError."""
        with self._reading() as connection:
            return rows.read_recording(connection, recording_id)

    def facts(self, recording_id: str) -> Facts:
        """Return what was told of a recording."""
        with self._reading() as connection:
            return rows.read_facts(connection, recording_id)

    # --- recordings that come piece by piece ---

    def keep_part(self, job: int, capture: str, part: tuple[int, bytes]) -> None:
        """Keep a piece (number, lines) of a recording that a phone is sending. Raises ConflictError, InputError."""
        with self._writing() as connection:
            captures.keep_part(connection, job, capture, part, self._clock())

    def arrived(self, job: int, capture: str) -> captures.Arrived:
        """Return which pieces of it have come, and the recording where it is whole."""
        with self._reading() as connection:
            return captures.arrived(connection, job, capture)

    def captured(self, capture: str) -> bytes:
        """Return the lines of all its pieces in order."""
        with self._reading() as connection:
            return captures.lines(connection, capture)

    def complete(self, capture: str, recording: str) -> None:
        """Say which recording it has become; its pieces are let go."""
        with self._writing() as connection:
            captures.complete(connection, capture, recording)

    def waiting(self, job: int) -> Mapping[str, int]:
        """Return the unfinished ones of a job, with how many pieces of each have come."""
        with self._reading() as connection:
            return captures.waiting(connection, job)

    # --- settings ---

    def settings(self) -> Settings:
        """Return the workshop's settings."""
        with self._reading() as connection:
            return rows.read_settings(connection)

    def change_settings(self, changes: Mapping[str, Any]) -> Settings:
        """Change some settings and return all of them. Raises InputError naming the key; then nothing is changed."""
        with self._writing() as connection:
            after = changed(rows.read_settings(connection), changes)
            rows.write_settings(connection, after, list(changes), self._clock())
        return after

    # --- transactions ---

    def _reading(self) -> AbstractContextManager[Connection]:
        return self._transaction(writes=False)

    def _writing(self) -> AbstractContextManager[Connection]:
        return self._transaction(writes=True)

    @contextmanager
    def _transaction(self, *, writes: bool) -> Iterator[Connection]:
        try:
            with (
                self._engine.connect().execution_options(writes=writes) as connection,
                connection.begin(),
            ):
                yield connection
        except (DBAPIError, sqlite3.Error) as error:
            said = getattr(error, "orig", error)
            raise StoreError(
                f"The store could not be {'written' if writes else 'read'}: {said}"
            ) from error


def _sound(body: Body) -> Body:
    """Return the body as it will be read back: what cannot be read back is refused before it is stored."""
    return body_from_json(body_to_json(body))


def _on_the_shelf(
    connection: Connection, job: int, entry: Entry, taken: Sequence[tuple[int, int]]
) -> None:
    """What an entry does to the pieces on the shelf."""
    for lot, count in taken:
        shelf_rows.move(
            connection, Move(lot, "used", count, job), entry.by, entry.at, entry=entry.number
        )
    if isinstance(entry.body, Retraction):
        shelf_rows.give_back(connection, job, entry.body.entry, entry.by, entry.at)
    elif isinstance(entry.body, Closed):
        shelf_rows.release_all(connection, job, entry.by, entry.at)


def _line(job: Job, opened_at: str, last_at: str, entries: int) -> JobLine:
    intake, closed, decision = job.intake, job.closed, job.decision
    return JobLine(
        job.number,
        intake.title,
        intake.family,
        intake.owner,
        opened_at,
        last_at,
        entries,
        open=closed is None,
        decision=decision.option if decision else "",
        ending=closed.ending if closed else "",
    )
