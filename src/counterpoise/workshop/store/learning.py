"""What was learned of each family, as it was last computed, and what somebody decided of it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import delete, insert, select

from counterpoise.workshop.people.acting import signed
from counterpoise.workshop.store.database import LONGEST_NAME, Database
from counterpoise.workshop.store.tables import LearnedRow, LearningDecisionRow


@dataclass(frozen=True, slots=True)
class KeptLearning:
    """What was learned of a family: ``of`` its written digest, ``key`` all it was learned from."""

    at: str
    of: str
    key: str
    body: dict[str, object]


@dataclass(frozen=True, slots=True)
class Decided:
    """What was decided of learning: ``until`` no later closing counts (empty: all do).

    ``taken_back``: places whose figures are the written ones, whatever the jobs say.
    """

    until: str = ""
    taken_back: frozenset[str] = frozenset()


class StoredLearning:
    """The learning of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def mark(self, family: str) -> tuple[str, str] | None:
        """The digests ``of`` and ``key`` of what was last learned, without reading the figures."""
        asked = select(LearnedRow.of, LearnedRow.key).where(LearnedRow.family == family)
        with self._database.reading() as connection:
            row = connection.execute(asked).one_or_none()
        return None if row is None else (row.of, row.key)

    def get(self, family: str) -> KeptLearning | None:
        """What was last learned of a family; None where nothing ever was."""
        with self._database.reading() as connection:
            asked = select(LearnedRow).where(LearnedRow.family == family)
            row = connection.execute(asked).one_or_none()
        return None if row is None else KeptLearning(row.at, row.of, row.key, row.body)

    def put(self, family: str, of: str, key: str, body: dict[str, object]) -> None:
        """Keep what was learned in the place of what was learned before."""
        with self._database.writing() as connection:
            # delete and insert is what both databases understand alike
            connection.execute(delete(LearnedRow).where(LearnedRow.family == family))
            at = self._database.clock()
            row = {"family": family, "at": at, "of": of, "key": key, "body": body}
            connection.execute(insert(LearnedRow).values(row))

    def decided(self, family: str) -> Decided:
        """What holds of all that was decided of a family."""
        asked = (
            select(LearningDecisionRow)
            .where(LearningDecisionRow.family == family)
            .order_by(LearningDecisionRow.number)
        )
        until, taken_back = "", set[str]()
        with self._database.reading() as connection:
            # in the order they were made: the last word on a thing holds
            for row in connection.execute(asked):
                if row.kind == "until":
                    until = row.value
                elif row.kind == "take_back":
                    taken_back.add(row.value)
                else:
                    taken_back.discard(row.value)
        return Decided(until, frozenset(taken_back))

    def decide(self, family: str, kind: str, value: str, by: str = "") -> None:
        """Put a decision down: ``until``, ``take_back`` or ``give_back``."""
        row = {
            "at": self._database.clock(), "by": signed(by)[:LONGEST_NAME],
            "family": family, "kind": kind, "value": value,
        }  # fmt: skip
        with self._database.writing() as connection:
            connection.execute(insert(LearningDecisionRow).values(row))
