"""The keys under which something was written: what was sent twice is written once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import select

from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import WriteRow
from counterpoise.workshop.store.unit import Unit, current_unit, entered


@dataclass(frozen=True, slots=True)
class Written:
    """What was written under a key: the digest of what was sent, and what was answered.

    ``job`` and ``entry`` name the last entry, 0 where none was written; ``answer`` is None where it
    is worked out anew from them.
    """

    digest: str
    job: int
    entry: int
    answer: Mapping[str, object] | None


class Writes:
    """The keys of a store. They live as long as the jobs they wrote to."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def known(self, key: str) -> Written | None:
        """What was written under a key, None where nothing was. Raises StoreError."""
        with self._database.reading() as connection:
            row = connection.execute(select(WriteRow).where(WriteRow.key == key)).first()
        if row is None:
            return None
        return Written(row.digest, row.job or 0, row.entry or 0, row.answer)

    def same_since(self, job: int, entry: int, digest: str) -> bool:
        """Whether the very same was written to a job after an entry, under another key."""
        same = select(WriteRow.key).where(
            WriteRow.job == job, WriteRow.entry > entry, WriteRow.digest == digest
        )
        with self._database.reading() as connection:
            return connection.execute(same).first() is not None

    @contextmanager
    def under(self, key: str, digest: str) -> Iterator[Unit]:
        """Write all that follows under a key, in one transaction from its first write on.

        It holds once it is settled. Raises AlreadyWrittenError at the first write where the key was
        used meanwhile.
        """
        unit = Unit(self._database.engine, key, digest, self._database.clock)
        with entered(unit):
            yield unit

    def settle(self) -> None:
        """Put on disk what was written under the key at hand, where there is one.

        For whoever goes on to work out an answer at length: it must not hold up other writers.
        """
        unit = current_unit(self._database.engine)
        if unit is not None:
            with self._database.translated(writes=True):
                unit.settle()

    def finish(self, unit: Unit, answer: Mapping[str, object]) -> None:
        """Put what was written under a key on disk with its answer. Raises StoreError."""
        with self._database.translated(writes=True):
            unit.settle(answer)
