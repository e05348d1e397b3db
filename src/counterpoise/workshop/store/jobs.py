"""Jobs in the store: opened, added to, listed, exported, imported. An entry is never changed."""

from __future__ import annotations

import threading
from contextlib import suppress
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Row, Select, insert, select

from counterpoise.errors import ConflictError, InputError, StoreError
from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Entry,
    Figures,
    Finding,
    Intake,
    Job,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import check_retraction
from counterpoise.workshop.jobs.entry_json import (
    as_stored,
    body_from_json,
    body_to_json,
    kind_of,
    photo_ids,
    read_text,
    recording_ids,
)
from counterpoise.workshop.jobs.job_file import JobFile, job_file_to_json
from counterpoise.workshop.jobs.job_file_reader import job_file_from_json
from counterpoise.workshop.parts.stock import Move
from counterpoise.workshop.people.acting import signed
from counterpoise.workshop.store import files, job_lines, job_rows, stock_rows
from counterpoise.workshop.store.database import LARGEST_KEY, LONGEST_NAME, Database
from counterpoise.workshop.store.job_lines import JobLine, LineQuery
from counterpoise.workshop.store.tables import EntryRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence


class UnreadableError(StoreError):
    """An entry of a job cannot be read: the store is damaged there."""


class Jobs:
    """The jobs of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._rows_made, self._making_rows = False, threading.Lock()

    def open(self, intake: Intake, by: str = "") -> Job:
        """Open a job with its intake as entry 1."""
        return self.add(JobFile((Entry(1, self._database.clock(), by, intake),)))

    def append(
        self, job_number: int, body: Body, by: str = "", expected_last: int | None = None,
        taken: Sequence[tuple[int, int]] = (),
    ) -> Entry:  # fmt: skip
        """Add an entry to a job and return it once it is on disk.

        ``expected_last`` is the number of the last entry the writer had seen. ``taken``: (lot,
        pieces) used from stock; they go back where the entry is taken back. What is still reserved
        for a job that is closed is let go. Raises NotFoundError; ConflictError where another entry
        has been written since, InputError where the body cannot stand. Then nothing is stored.
        """
        # before the lock is taken: it needs nothing of the store
        kept = as_stored(body)
        with self._database.writing() as connection:
            last = job_rows.last_number(connection, job_number)
            # somebody decided on a page that no longer says what is known
            if expected_last is not None and expected_last != last:
                raise ConflictError(
                    f"Somebody else wrote to job {job_number} in between: its last entry is {last},"
                    f" not {expected_last}."
                    " Look at the job again, then record.",
                    job=job_number,
                    since=expected_last,
                    sent=kept,
                )
            # numbered under the lock: no two entries of a job have the same number
            entry = Entry(last + 1, self._database.clock(), _name(by), kept)
            if isinstance(kept, Retraction):
                # again, under the lock: of two who take the same entry back only one may
                check_retraction(_read_job(connection, job_number), kept.entry)
            files.check_files(connection, photo_ids(kept), recording_ids(kept))
            _insert_entries(connection, job_number, [entry])
            self._database.wrote(job_number, entry.number)
            _move_stock(connection, job_number, entry, taken)
            self._renew_line(connection, job_number, entry)
        return entry

    def _renew_line(self, connection: Connection, number: int, entry: Entry) -> None:
        # most entries move a job nowhere in the lists, and then it need not be read
        if isinstance(entry.body, Finding | Figures) and job_lines.touch(
            connection, number, entry.number, entry.at
        ):
            return
        job_lines.renew(connection, _read_job(connection, number))

    def retract(self, job_number: int, entry: int, why: str = "", by: str = "") -> Entry:
        """Take back an earlier entry.

        Raises NotFoundError where there is none, InputError where it must stay.
        """
        return self.append(job_number, Retraction(entry, why), by)

    def get(self, number: int) -> Job:
        """Return a job with all its entries. Raises NotFoundError, StoreError.

        One that cannot be read is marked in the lists.
        """
        try:
            with self._database.reading() as connection:
                return _read_job(connection, number)
        except UnreadableError:
            # where it cannot be marked now, it is said to whoever asks all the same
            with suppress(StoreError), self._database.writing() as connection:
                _make_row(connection, number)
            raise

    def last(self, number: int) -> int:
        """Return the number of the job's last entry; reads none. Raises NotFoundError."""
        with self._database.reading() as connection:
            return job_rows.newest(connection, number)

    # --- lists ---

    def lines(self, query: LineQuery = LineQuery()) -> list[JobLine]:  # noqa: B008  # is frozen
        """The jobs asked for, newest first; without a question all but those opened by mistake."""
        self._make_rows()
        with self._database.reading() as connection:
            return job_lines.lines(connection, query)

    def count(self, query: LineQuery) -> int:
        """How many jobs a question asks for, whatever its limit."""
        self._make_rows()
        with self._database.reading() as connection:
            return job_lines.count(connection, query)

    def open_lines(self) -> list[JobLine]:
        """Return the open jobs, newest first, however many were closed before."""
        return self.lines(LineQuery("open"))

    def _make_rows(self) -> None:
        """Make the rows of jobs that have none yet: once, after that each entry renews its own."""
        # one after the other: all who ask at once would make the same rows, and hold up who writes
        with self._making_rows:
            if not self._rows_made:
                job_lines.make_missing(self._database, _make_row)
                self._rows_made = True

    # --- a job in and out ---

    def export_json(self, number: int) -> dict[str, object]:
        """Return a job with its photos and recordings as JSON values. Raises NotFoundError."""
        with self._database.reading() as connection:
            job = _read_job(connection, number)
            # in the same transaction as the entries: an export is one state of the job
            photos = {
                key: files.read_photo(connection, key)
                for entry in job.entries
                for key in photo_ids(entry.body)
            }
            named = [key for entry in job.entries for key in recording_ids(entry.body)]
            metadata = {key: files.read_metadata(connection, key) for key in named}
            # the sound of a recording is a recording too, named by no entry
            named += [each.sound for each in metadata.values() if each.sound]
            spins = {key: files.read_recording(connection, key) for key in named}
        return job_file_to_json(job, JobFile(job.entries, photos, spins, metadata))

    def import_json(self, data: object) -> Job:
        """Take in an exported job under a new number: all of it or nothing.

        Raises InputError that lists the mistakes by their paths.
        """
        return self.add(job_file_from_json(data))

    def add(self, job_file: JobFile) -> Job:
        """Store a whole job under a new number, in one transaction. Raises InputError."""
        return self.add_all([job_file])[0]

    def add_all(self, job_files: Iterable[JobFile]) -> list[Job]:
        """Store several whole jobs in one transaction: all or none. Raises InputError."""
        with self._database.writing() as connection:
            return [self._add(connection, job_file) for job_file in job_files]

    def _add(self, connection: Connection, job_file: JobFile) -> Job:
        # files before entries: an entry is refused where a file it names is not in the store
        files.insert_all(connection, job_file, self._database.clock())
        entries = [Entry(e.number, e.at, _name(e.by), as_stored(e.body)) for e in job_file.entries]
        # opened when its first entry was written, in whichever store that was
        number = job_rows.new_job(connection, entries[0].at)
        for entry in entries:
            files.check_files(connection, photo_ids(entry.body), recording_ids(entry.body))
        _insert_entries(connection, number, entries)
        self._database.wrote(number, entries[-1].number)
        job = Job(number, tuple(entries))
        job_lines.renew(connection, job)
        return job


def _name(by: str) -> str:
    return read_text(signed(by), "by")[:LONGEST_NAME]


def _move_stock(
    connection: Connection, job: int, entry: Entry, taken: Sequence[tuple[int, int]]
) -> None:
    """Put down what an entry does to the pieces in stock, in the entry's own transaction."""
    for lot, count in taken:
        stock_rows.move(
            connection, Move(lot, "used", count, job), entry.by, entry.at, entry=entry.number
        )
    if isinstance(entry.body, Retraction):
        stock_rows.give_back(connection, job, entry.body.entry, entry.by, entry.at)
    elif isinstance(entry.body, Closed):
        stock_rows.release_all(connection, job, entry.by, entry.at)


def _insert_entries(connection: Connection, job: int, entries: Sequence[Entry]) -> None:
    """Add entries to a job."""
    # one statement for all: a job of fifty entries comes in with one
    rows = [
        {
            "job": job,
            "number": e.number,
            "at": e.at,
            "by": e.by,
            "kind": kind_of(e.body),
            "body": body_to_json(e.body),
        }
        for e in entries
    ]
    connection.execute(insert(EntryRow), rows)


def _make_row(connection: Connection, number: int) -> None:
    # one entry that cannot be read must not hide all other jobs
    try:
        job = _read_job(connection, number)
    except UnreadableError as error:
        job_lines.mark_damaged(connection, number, error.message)
    else:
        job_lines.renew(connection, job)


def _read_job(connection: Connection, number: int) -> Job:
    """Return a job with all its entries. Raises NotFoundError, StoreError."""
    if not 0 < number <= LARGEST_KEY:
        raise job_rows.no_job(connection, number)
    chosen = select(EntryRow).where(EntryRow.job == number).order_by(EntryRow.number)
    # a job without entries cannot be: both are written in one transaction
    entries = tuple(read_entries(connection, chosen))
    if not entries:
        raise job_rows.no_job(connection, number)
    return Job(number, entries)


def read_entries(connection: Connection, chosen: Select[EntryRow]) -> Iterator[Entry]:
    """The entries chosen of one job. Raises StoreError for the first that cannot be read."""
    row = None
    try:
        for row in connection.execute(chosen):
            yield read_entry(row)
    # the driver reads JSON as it fetches: what is none stops it at that row
    except ValueError as error:
        after = "the first" if row is None else f"the one after {row.number}"
        of = "" if row is None else f" of job {row.job}"
        raise _unreadable(f"An entry{of}, {after},", error) from error


def read_entry(row: Row[EntryRow]) -> Entry:
    """Return the entry of a row of ``entries``. Raises StoreError where it cannot be read."""
    try:
        return Entry(row.number, row.at, row.by, body_from_json(row.body))
    # stored by this program, so it is the store that is damaged, not what somebody typed
    except InputError as error:
        raise _unreadable(f"Entry {row.number} of job {row.job}", error) from error


def _unreadable(which: str, error: Exception) -> UnreadableError:
    return UnreadableError(
        f"{which} cannot be read: {error}",
        remedy="The other jobs are whole. Where a newer version of the program wrote it, update"
        " this one; else stop the program and restore the newest backup (docs/store.md)",
    )
