"""Closed jobs of many virtual workshops as Parquet files, drawn by stated laws; all of it invented.

A workshop is drawn of the seed and its number alone, so that the jobs are the same however they are
split into files. Laws: workshops differ in size by a log-normal law; in a workshop the kinds of
machines, and the faults of each kind, come by Dirichlet laws about the pool's own; how often a
check shows a fault, or shows something without one, and how often a repair holds, by Beta laws.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.errors import InputError

if TYPE_CHECKING:
    import pyarrow as pa

# How much workshops differ: sizes as a log, laws as so many jobs' worth of the pool's own figure.
SIZES, KINDS, ALIKE = 0.8, 20.0, 60.0
SHOWS, ALARM, HOLDS = 0.85, 0.06, 0.9
# Share of closings that never say what it was.
NEVER_KNOWN = 0.2
# Workshops in one file: a file is some ten megabytes at ten thousand jobs a workshop.
IN_A_FILE = 50


@dataclass(frozen=True, slots=True)
class PoolLaw:
    """What a pool is drawn by: so many workshops, jobs in all, families, and faults of each."""

    workshops: int = 1000
    jobs: int = 10_000_000
    families: int = 4
    faults: int = 30
    seed: int = 1

    def __post_init__(self) -> None:
        for name in ("workshops", "jobs", "families", "faults"):
            if not 1 <= getattr(self, name) <= 2_000_000_000:
                raise InputError(
                    f"{name} is {getattr(self, name)}", field=name, remedy="Give 1 or more"
                )
        # the columns hold them in a byte or two
        if self.faults > 120 or self.families > 120 or self.workshops > 30_000:
            raise InputError("At most 120 faults and families, and 30000 workshops")

    def sizes(self) -> np.ndarray:
        """(W,) jobs of each workshop; they add up to all jobs."""
        drawn = np.random.default_rng([self.seed, 0]).lognormal(0.0, SIZES, self.workshops)
        ends = np.rint(np.cumsum(drawn) / drawn.sum() * self.jobs).astype(np.int64)
        return np.diff(ends, prepend=0)

    def shares(self) -> np.ndarray:
        """(families, faults) how often each fault is the cause, in the pool as a whole."""
        # a few faults are most of the work: halved about every fourth
        usual = 2.0 ** (-np.arange(self.faults) / 4.0)
        rng = np.random.default_rng([self.seed, 1])
        return np.array([rng.permutation(usual / usual.sum()) for _ in range(self.families)])


def jobs_of(law: PoolLaw, workshop: int, count: int) -> pa.Table:
    """The closed jobs of one workshop, a row each.

    ``fault`` (-1: never known) is also the number of the check that looks for it and of the repair
    that mends it; ``check`` -1: none was done; ``shown`` 1 where it showed something; ``held`` 1
    where the repair did, -1 where none was proved.
    """
    import pyarrow as pa

    rng = np.random.default_rng([law.seed, 2, workshop])
    kinds = rng.dirichlet(np.full(law.families, KINDS / law.families))
    shares = np.array([rng.dirichlet(ALIKE * row) for row in law.shares()])
    shows = rng.beta(ALIKE * SHOWS, ALIKE * (1 - SHOWS), shares.shape)
    alarm = rng.beta(ALIKE * ALARM, ALIKE * (1 - ALARM), shares.shape)
    holds = rng.beta(ALIKE * HOLDS, ALIKE * (1 - HOLDS), shares.shape)
    family = rng.choice(law.families, count, p=kinds)
    # a draw on the sums of the shares of its family
    sums = np.cumsum(shares, axis=1)
    fault = np.minimum((rng.random((count, 1)) > sums[family]).sum(axis=1), law.faults - 1)
    # three checks in four look for what it is, the others for anything
    check = np.where(rng.random(count) < 0.75, fault, rng.integers(0, law.faults, count))
    chance = np.where(check == fault, shows[family, check], alarm[family, check])
    shown = rng.random(count) < chance
    check = np.where(rng.random(count) < 0.9, check, -1)
    held = (rng.random(count) < holds[family, fault]).astype(np.int8)
    held[rng.random(count) < 0.3] = -1
    never = rng.random(count) < NEVER_KNOWN
    # of a machine that was never understood no repair was proved either
    held[never], fault[never] = -1, -1
    return pa.table({
        "workshop": np.full(count, workshop, np.int16),
        "family": family.astype(np.int8), "fault": fault.astype(np.int8),
        "check": check.astype(np.int8), "shown": shown.astype(np.int8), "held": held,
    })  # fmt: skip


def draw(law: PoolLaw, folder: Path, in_a_file: int = IN_A_FILE) -> list[Path]:
    """Write a pool into a folder, ``in_a_file`` workshops at a time; returns the files in order."""
    import pyarrow as pa
    from pyarrow import parquet

    folder.mkdir(parents=True, exist_ok=True)
    sizes, files = law.sizes(), []
    for first in _steps(law.workshops, in_a_file):
        numbers = range(first, min(first + in_a_file, law.workshops))
        file = folder / f"jobs-{first:05d}.parquet"
        tables = [jobs_of(law, n, int(sizes[n])) for n in numbers]
        parquet.write_table(pa.concat_tables(tables), file)
        files.append(file)
    return files


def _steps(count: int, size: int) -> Iterator[int]:
    return iter(range(0, count, size))


__all__ = ["PoolLaw", "draw", "jobs_of"]
