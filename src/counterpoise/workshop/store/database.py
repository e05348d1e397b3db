"""An opened database and its clock: every reading and writing of the store is one transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from counterpoise.workshop.store.engine import open_engine
from counterpoise.workshop.store.opening.faults import in_words
from counterpoise.workshop.store.unit import current_unit

# The largest number that an INTEGER column of PostgreSQL holds. Asking for a larger one is an
# error there and none in SQLite, so it is sorted out before the database is asked.
LARGEST_KEY = 2**31 - 1
LONGEST_NAME = 200  # characters kept of who did something; the column takes no more


def utc_now() -> str:
    """Return the time now, UTC, ISO 8601 to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Database:
    """The engine of a store, and the ``clock`` whose time (UTC, ISO 8601) goes on entries."""

    def __init__(self, where: str | Path, clock: Callable[[], str] = utc_now) -> None:
        # a clock of the caller's: what is stored can be the same twice, in tests and demonstrations
        self.clock = clock
        self.engine = open_engine(where)

    def reading(self) -> AbstractContextManager[Connection]:
        """Open a transaction that sees one state of the store. Raises StoreError."""
        return self._transaction(writes=False)

    def writing(self) -> AbstractContextManager[Connection]:
        """Open a transaction that holds the write lock from its start. Raises StoreError."""
        return self._transaction(writes=True)

    @contextmanager
    def _transaction(self, *, writes: bool) -> Iterator[Connection]:
        unit = current_unit(self.engine)
        # what belongs together is one transaction, from its first write on: what is read in
        # between sees what was written
        if unit is not None and (writes or unit.begun):
            with self.translated(writes=writes), unit.part() as connection:
                yield connection
            return
        with (
            self.translated(writes=writes),
            # begun with the mark of its purpose, which the engine turns into the kind of lock
            self.engine.connect().execution_options(writes=writes) as connection,
            connection.begin(),
        ):
            yield connection

    @property
    def unsettled(self) -> bool:
        """Whether what is read now may still be taken back: nobody may keep it."""
        unit = current_unit(self.engine)
        return unit is not None and unit.begun

    def wrote(self, job: int, entry: int) -> None:
        """Note the entry just written, for whoever sends the same under its key again."""
        unit = current_unit(self.engine)
        if unit is not None:
            unit.wrote(job, entry)

    @contextmanager
    def translated(self, *, writes: bool) -> Iterator[None]:
        """Say what the driver says as a StoreError."""
        try:
            yield
        except (DBAPIError, sqlite3.Error) as error:
            what = f"The store could not be {'written' if writes else 'read'}"
            raise in_words(what, error) from error
