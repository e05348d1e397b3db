"""Jobs by when they were closed: a month's ledger reads no other, however many there are."""

from __future__ import annotations

from contextlib import nullcontext, suppress

from sqlalchemy import ColumnElement, func, select, true

from counterpoise.errors import StoreError
from counterpoise.workshop.jobs.entries import Entry, Job
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.jobs import read_entries, read_entry
from counterpoise.workshop.store.tables import EntryRow

# What tells whether a repair held: findings, most of a job, are not read for it.
_OUTLINE = ("intake", "repair", "closed", "retraction")
_MONTH = func.substr(EntryRow.at, 1, 7)


class Closings:
    """The closings of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def in_months(self, first: str, last: str) -> list[Job]:
        """The jobs with a closing put down in months like ``2026-03``, the last included.

        By number. The closing may have been taken back since. Raises StoreError where one of them
        cannot be read: a sum without it would be wrong.
        """
        # a time is ISO 8601, and of months every database knows the order, whatever its letters
        return self._jobs(_MONTH.between(first, last), true(), whole=True)

    def outlines(self) -> list[Job]:
        """The jobs that were ever closed, with no more entries than tell whether repairs held.

        One that cannot be read is left out: of many, what is learned hardly misses it.
        """
        return self._jobs(true(), EntryRow.kind.in_(_OUTLINE), whole=False)

    def months(self) -> list[str]:
        """The months in which a closing was put down, the last first; like ``2026-03``."""
        closed = select(_MONTH).where(EntryRow.kind == "closed")
        months = closed.distinct().order_by(_MONTH.desc())
        with self._database.reading() as connection:
            return [str(each) for each in connection.execute(months).scalars()]

    def count(self) -> tuple[int, int]:
        """How many closings, and how many retractions, were ever put down."""
        kinds = select(EntryRow.kind, func.count()).where(
            EntryRow.kind.in_(("closed", "retraction"))
        )
        with self._database.reading() as connection:
            counts = {kind: int(n) for kind, n in connection.execute(kinds.group_by(EntryRow.kind))}
        return counts.get("closed", 0), counts.get("retraction", 0)

    def _jobs(
        self, closed: ColumnElement[bool], wanted: ColumnElement[bool], *, whole: bool
    ) -> list[Job]:
        # the jobs are chosen by the database: of ten years' jobs only those asked for are read
        jobs = select(EntryRow.job).where(EntryRow.kind == "closed", closed)
        chosen = select(EntryRow).where(wanted).order_by(EntryRow.job, EntryRow.number)
        entries: dict[int, list[Entry]] = {}
        with self._database.reading() as connection:
            try:
                for row in connection.execute(chosen.where(EntryRow.job.in_(jobs))):
                    entries.setdefault(row.job, []).append(read_entry(row))
            # one that cannot be read: then each by itself, so that it is named or left out
            except (StoreError, ValueError):
                entries.clear()
                for number in connection.execute(jobs.distinct().order_by(EntryRow.job)).scalars():
                    with nullcontext() if whole else suppress(StoreError):
                        own = chosen.where(EntryRow.job == number)
                        entries[number] = list(read_entries(connection, own))
        return [Job(number, tuple(kept)) for number, kept in entries.items()]
