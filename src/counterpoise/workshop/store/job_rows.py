"""Rows of jobs as other tables need them: whether there is one, its last entry, new numbers."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection, Select, func, insert, select

from counterpoise.errors import NotFoundError, StoreError
from counterpoise.workshop.store.database import LARGEST_KEY
from counterpoise.workshop.store.tables import Base, EntryRow, JobRow


def last_number(connection: Connection, job: int) -> int:
    """Return the number of the job's last entry.

    Others can add none until the transaction ends. Raises NotFoundError.
    """
    if not 0 < job <= LARGEST_KEY:
        raise no_job(connection, job)
    # SQLite holds the write lock already; PostgreSQL would let a second writer in without this
    locked = select(JobRow.number).where(JobRow.number == job).with_for_update()
    if connection.execute(locked).first() is None:
        raise no_job(connection, job)
    return connection.execute(
        select(func.max(EntryRow.number)).where(EntryRow.job == job)
    ).scalar_one()


def newest(connection: Connection, job: int) -> int:
    """The number of the job's last entry; unlike above, nobody is held up. Raises NotFoundError."""
    known = select(func.max(EntryRow.number)).where(EntryRow.job == job)
    # a number out of an address can be anything
    last = connection.execute(known).scalar() if 0 < job <= LARGEST_KEY else None
    if last is None:
        raise no_job(connection, job)
    return last


def no_job(connection: Connection, number: int) -> NotFoundError:
    """The error for a job that is not there, with the numbers that are."""
    last = connection.execute(select(func.max(JobRow.number))).scalar()
    remedy = f"The jobs are numbered from 1 to {last}." if last else "No machine has come in yet."
    return NotFoundError(f"There is no job {number}", remedy=remedy)


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
    if connection.dialect.name == "postgresql":
        connection.execute(_next_number(table))
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise StoreError("The database gave no number")
    return int(key[0])


def _next_number(table: type[Base]) -> Select[tuple[int]]:
    # a server counts on where a write was taken back; numbers on labels have no gaps, though
    last = select(func.coalesce(func.max(table.__table__.c.number), 0) + 1).scalar_subquery()
    counter = func.pg_get_serial_sequence(table.__tablename__, "number")
    return select(func.setval(counter, last, False))
