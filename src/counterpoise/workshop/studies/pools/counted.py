"""The counts that a pool is made of, from closed jobs that do not fit into memory.

DuckDB reads the files row group by row group and spills what it must. On a cluster each worker
counts some of the files by the very same words, and the counts are added: whole numbers, so that
the answer is the same to the last one however the files were split.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pyarrow as pa

# What one process may take for tables, with room for the program itself below 2 GB.
MEMORY_MB = 1200

# What is counted of some jobs: it can be added to what was counted of others. Repairs are counted
# beside the causes, for both go by the fault; what a cause is a share of comes when all are added.
_COUNTS = """
WITH causes AS MATERIALIZED (
  SELECT workshop, family, fault, count(*) AS there,
         count(*) FILTER (held = 1) AS held, count(*) FILTER (held >= 0) AS proved
  FROM {jobs} WHERE fault >= 0 GROUP BY ALL
)
SELECT workshop, family, 0::TINYINT AS kind, fault AS first, 0::TINYINT AS second,
       there AS yes, 0::BIGINT AS "of" FROM causes
UNION ALL
SELECT workshop, family, 1::TINYINT, "check", fault, count(*) FILTER (shown = 1), count(*)
FROM {jobs} WHERE fault >= 0 AND "check" >= 0 GROUP BY workshop, family, "check", fault
UNION ALL
SELECT workshop, family, 2::TINYINT, fault, fault, held, proved FROM causes WHERE proved > 0
"""
# A figure is two counts: how often, of how many. Faults of all jobs whose cause was known; rows of
# the findings under each fault; cures of the repairs that were proved.
_FIGURES = """
SELECT workshop, family, kind, first, second, yes,
       CASE kind WHEN 0 THEN (sum(yes) OVER (PARTITION BY workshop, family, kind))::BIGINT
       ELSE "of" END AS "of"
FROM ({counts}) ORDER BY workshop, family, kind, first, second
"""
# The kinds of figures, by the number they have in the column.
KINDS = ("fault", "row", "cure")


def counts(files: Sequence[Path], memory_mb: int = MEMORY_MB, threads: int = 0) -> pa.Table:
    """What these files give to each figure; parts of a pool are put together by :func:`added`.

    ``threads`` 0: as many as there are cores.
    """
    return _asked(_COUNTS.format(jobs=_read(files)), memory_mb, threads)


def figures(files: Sequence[Path], memory_mb: int = MEMORY_MB, threads: int = 0) -> pa.Table:
    """The counts of every figure of every workshop, on this machine.

    Columns ``workshop``, ``family``, ``kind`` (see :data:`KINDS`), ``first`` (fault, check or
    repair), ``second`` (the fault under which), ``yes``, ``of``; in that order.
    """
    counted = _COUNTS.format(jobs=_read(files))
    return _asked(_FIGURES.format(counts=counted), memory_mb, threads)


def figures_on_cluster(files: Sequence[Path], client: object, at_once: int = 1) -> pa.Table:
    """The same by the workers of a Dask ``client``, ``at_once`` files to a task.

    Every worker must see the files under the same names.
    """
    parts = [list(files[i : i + at_once]) for i in range(0, len(files), at_once)]
    # one thread a task: the workers are what runs side by side
    tasks = client.map(counts, parts, threads=1)  # type: ignore[attr-defined]  # ships no types
    return added(client.gather(tasks))  # type: ignore[attr-defined]


def added(parts: Sequence[pa.Table], memory_mb: int = MEMORY_MB) -> pa.Table:
    """The figures of what was counted apart."""
    import pyarrow as pa

    together = pa.concat_tables(parts)
    # a workshop whose jobs lie in several files has a part of each count in several parts
    summed = """SELECT workshop, family, kind, first, second,
    sum(yes)::BIGINT AS yes, sum("of")::BIGINT AS "of" FROM parts GROUP BY ALL"""
    return _asked(_FIGURES.format(counts=summed), memory_mb, 0, parts=together)


def _read(files: Sequence[Path]) -> str:
    names = ", ".join("'" + str(file).replace("'", "''") + "'" for file in files)
    return f"read_parquet([{names}])"


def _asked(words: str, memory_mb: int, threads: int, **tables: pa.Table) -> pa.Table:
    # an extra: a workshop that counts its own jobs never needs it
    import duckdb

    with duckdb.connect(":memory:") as connection:
        connection.execute(f"SET memory_limit = '{memory_mb:d}MB'")
        # the order is asked for where it matters; kept anyway it would cost memory
        connection.execute("SET preserve_insertion_order = false")
        if threads:
            connection.execute(f"SET threads = {threads:d}")
        for name, table in tables.items():
            connection.register(name, table)
        return connection.sql(words).to_arrow_table()


__all__ = ["KINDS", "added", "counts", "figures", "figures_on_cluster"]
