"""Jobs and their entries to and from rows, on an open connection."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, Row, func, insert, select

from counterpoise.errors import InputError, NotFoundError, StoreError
from counterpoise.workshop.jobs.entries import Entry, Job
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json, kind_of
from counterpoise.workshop.store.database import LARGEST_KEY
from counterpoise.workshop.store.tables import Base, EntryRow, JobRow


def last_number(connection: Connection, job: int) -> int:
    """Return the number of the job's last entry.

    Others can add none until the transaction ends. Raises NotFoundError.
    """
    if not 0 < job <= LARGEST_KEY:
        raise NotFoundError(f"There is no job {job}")
    # SQLite holds the write lock already; PostgreSQL would let a second writer in without this
    locked = select(JobRow.number).where(JobRow.number == job).with_for_update()
    if connection.execute(locked).first() is None:
        raise NotFoundError(f"There is no job {job}")
    return connection.execute(
        select(func.max(EntryRow.number)).where(EntryRow.job == job)
    ).scalar_one()


def job_exists(connection: Connection, number: int) -> bool:
    """Whether there is such a job."""
    known = select(JobRow.number).where(JobRow.number == number)
    # a number out of an address can be anything
    return 0 < number <= LARGEST_KEY and connection.execute(known).first() is not None


def new_job(connection: Connection, opened_at: str) -> int:
    """Add a job opened at a time (UTC, ISO 8601) and return its number."""
    return new_key(connection, JobRow, {"opened_at": opened_at})


def new_key(connection: Connection, table: type[Base], values: Mapping[str, object]) -> int:
    """Add a row that the database numbers, and return its number. Raises StoreError."""
    # the database numbers, not the program: several write at once
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise StoreError("The database gave no number")
    return int(key[0])


def insert_entries(connection: Connection, job: int, entries: Sequence[Entry]) -> None:
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


def read_job(connection: Connection, number: int) -> Job:
    """Return a job with all its entries. Raises NotFoundError, StoreError."""
    if not 0 < number <= LARGEST_KEY:
        raise NotFoundError(f"There is no job {number}")
    rows = connection.execute(
        select(EntryRow).where(EntryRow.job == number).order_by(EntryRow.number)
    )
    # a job without entries cannot be: both are written in one transaction
    entries = tuple(read_entry(row) for row in rows)
    if not entries:
        raise NotFoundError(f"There is no job {number}")
    return Job(number, entries)


def read_entry(row: Row[EntryRow]) -> Entry:
    """Return the entry of a row of ``entries``. Raises StoreError where it cannot be read."""
    try:
        return Entry(row.number, row.at, row.by, body_from_json(row.body))
    # stored by this program, so it is the store that is damaged, not what somebody typed
    except InputError as error:
        raise StoreError(f"Entry {row.number} of job {row.job} cannot be read: {error}") from error
