"""What assessments came to, in the store: a copy for lists, each with what it was computed from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import delete, func, insert, select

from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import KeptRow, MovementRow, PriceListRow

# a database takes only so many values at once
_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class KeptFigures:
    """What the assessment of a job came to.

    ``entry``: the last one it was computed from; ``source``: the digest of all it was computed
    from; ``mark``: the digest of what it hangs on beside the job; ``at`` is UTC, ISO 8601.
    """

    job: int
    entry: int
    source: str
    mark: str
    at: str
    figures: Mapping[str, object]


class Kept:
    """The kept figures of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of(self, jobs: Iterable[int]) -> dict[int, KeptFigures]:
        """The kept figures by job; those of which none are kept are left out."""
        kept: dict[int, KeptFigures] = {}
        with self._database.reading() as connection:
            for some in _batched(jobs):
                rows = connection.execute(select(KeptRow).where(KeptRow.job.in_(some)))
                for row in rows:
                    kept[row.job] = KeptFigures(
                        row.job, row.entry, row.source, row.mark, row.at, row.figures
                    )
        return kept

    def keep(self, figures: KeptFigures) -> None:
        """Keep figures in the place of those kept before of the job."""
        # the fields are named as the columns are
        row = {name: getattr(figures, name) for name in KeptFigures.__slots__}
        with self._database.writing() as connection:
            # delete and insert is what both databases understand alike
            connection.execute(delete(KeptRow).where(KeptRow.job == figures.job))
            connection.execute(insert(KeptRow).values(row | {"figures": dict(figures.figures)}))

    def last_changes(self) -> tuple[int, int]:
        """The numbers of the last price list and of the last movement of stock, 0 for none."""
        # both are only added to, so the last numbers tell whether anything is new
        last_list = select(func.max(PriceListRow.number)).scalar_subquery()
        last_movement = select(func.max(MovementRow.number)).scalar_subquery()
        with self._database.reading() as connection:
            lists, movements = connection.execute(select(last_list, last_movement)).one()
        return int(lists or 0), int(movements or 0)


def _batched(jobs: Iterable[int]) -> Iterable[list[int]]:
    numbers = list(jobs)
    return (numbers[start : start + _AT_ONCE] for start in range(0, len(numbers), _AT_ONCE))
