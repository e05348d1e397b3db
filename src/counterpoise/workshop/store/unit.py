"""What is written under one key is one transaction, from the first write to the answer.

A unit is that of the thread of work that opened it (a context variable carries it into the threads
that a request is handed to). It begins with the first write, so that planning before it holds up
nobody; its key is written first, so that of two that send the same only one may write.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, insert, update
from sqlalchemy.exc import IntegrityError

from counterpoise.errors import StoreError
from counterpoise.workshop.store.tables import WriteRow

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


class AlreadyWrittenError(StoreError):
    """What was sent under this key is written already; nothing was written now."""


class Unit:
    """The writes under a key: all of them or none, together with the key and the answer."""

    def __init__(self, engine: Engine, key: str, digest: str, clock: Callable[[], str]) -> None:
        self.engine = engine
        self.key, self.digest = key, digest
        self.settled = False
        self._clock = clock
        self._connection: Connection | None = None
        self._entry: tuple[int, int] | None = None

    @property
    def begun(self) -> bool:
        """Whether something was written and is not settled yet."""
        return self._connection is not None

    @property
    def entry(self) -> tuple[int, int] | None:
        """The job and number of the last entry written; None where none was."""
        return self._entry

    def wrote(self, job: int, entry: int) -> None:
        """Note the entry that was written; of several the last holds."""
        self._entry = job, entry

    @contextmanager
    def part(self) -> Iterator[Connection]:
        """The unit's connection for one write or reading; a failed one leaves nothing behind."""
        connection = self._connection or self._begin()
        with connection.begin_nested():
            yield connection

    def _begin(self) -> Connection:
        connection = self.engine.connect().execution_options(writes=True)
        try:
            connection.begin()
            row = {"key": self.key, "digest": self.digest, "at": self._clock()}
            connection.execute(insert(WriteRow).values(row))
        except IntegrityError as error:
            connection.close()
            raise AlreadyWrittenError("This was written already.") from error
        except BaseException:
            connection.close()
            raise
        self._connection = connection
        return connection

    def settle(self, answer: Mapping[str, object] | None = None) -> None:
        """Put on disk what was written, with its key; nothing where nothing was written."""
        connection = self._connection
        if connection is None:
            return
        job, entry = self._entry or (None, None)
        values = {"job": job, "entry": entry, "answer": answer}
        try:
            connection.execute(update(WriteRow).where(WriteRow.key == self.key).values(**values))
            connection.commit()
            self.settled = True
        finally:
            self.abandon()

    def abandon(self) -> None:
        """Take back what was written and is not settled."""
        connection, self._connection = self._connection, None
        if connection is not None:
            # closing a connection takes back what it had not committed
            connection.close()


_current: ContextVar[Unit | None] = ContextVar("counterpoise_unit", default=None)


def current_unit(engine: Engine) -> Unit | None:
    """The unit that writes to this database now and is still open; None where there is none."""
    unit = _current.get()
    return unit if unit is not None and unit.engine is engine and not unit.settled else None


@contextmanager
def entered(unit: Unit) -> Iterator[Unit]:
    """Let everything written meanwhile belong to a unit; what is not settled is taken back."""
    before = _current.set(unit)
    try:
        yield unit
    finally:
        _current.reset(before)
        unit.abandon()
