"""Closed jobs of a thousand workshops counted: against pandas on the same files and figures.

``python -m benchmarks.pools [--jobs 10000000] [--workshops 1000]`` also counts them on a Dask
cluster of two workers and compares. Each way runs in a process of its own, whose memory is read.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from counterpoise.workshop.studies.pools.counted import figures, figures_on_cluster
from counterpoise.workshop.studies.pools.drawn import PoolLaw, draw

# what `make bench` counts: a fifth of the largest, so that it stays below a minute
JOBS, WORKSHOPS = 2_000_000, 1000


def by_pandas(files: list[Path]) -> np.ndarray:
    """(N, 7) the same figures, by the plainest groupings there are."""
    import pandas as pd

    jobs = pd.concat([pd.read_parquet(file) for file in files])
    known, of = jobs[jobs.fault >= 0], ["workshop", "family"]
    causes = known.groupby([*of, "fault"]).size().rename("yes").reset_index()
    causes = causes.merge(known.groupby(of).size().rename("of").reset_index())
    rows = known[known.check >= 0].groupby([*of, "check", "fault"]).shown.agg(["sum", "size"])
    cures = known[known.held >= 0].groupby([*of, "fault"]).held.agg(["sum", "size"])
    parts = []
    for kind, table in enumerate((causes, rows.reset_index(), cures.reset_index())):
        values = table.to_numpy(dtype=np.int64)
        # kind stands third; the fault under which last: none of causes, the same of cures
        second = {0: np.zeros(len(values)), 1: values[:, 3], 2: values[:, 2]}[kind]
        parts.append(np.column_stack([
            values[:, :2], np.full(len(values), kind), values[:, 2], second, values[:, -2:]
        ]))  # fmt: skip
    both = np.concatenate(parts).astype(np.int64)
    return both[np.lexsort(both[:, 4::-1].T)]


def by_duckdb(files: list[Path]) -> np.ndarray:
    return as_array(figures(files))


def by_dask(files: list[Path]) -> np.ndarray:
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        return as_array(figures_on_cluster(files, client))


def as_array(table: Any) -> np.ndarray:
    return np.column_stack([table.column(name).to_numpy() for name in table.column_names]).astype(
        np.int64
    )


WAYS: dict[str, Callable[[list[Path]], np.ndarray]] = {
    "duckdb": by_duckdb, "pandas": by_pandas, "dask": by_dask,
}  # fmt: skip


def measured(way: str, folder: Path) -> dict[str, Any]:
    """Seconds, peak of memory (MB) and digest of the answer of a way, in its own process."""
    words = [sys.executable, "-m", "benchmarks.pools", "--way", way, "--folder", str(folder)]
    answer = subprocess.run(words, check=True, capture_output=True, text=True)
    return json.loads(answer.stdout.splitlines()[-1])


def run_way(way: str, folder: Path) -> None:
    files = sorted(folder.glob("*.parquet"))
    # libraries are imported before the clock starts, for either
    import duckdb  # noqa: F401
    import pandas as pd  # noqa: F401

    start = time.perf_counter(), time.process_time()
    answer = WAYS[way](files)
    took = time.perf_counter() - start[0], time.process_time() - start[1]
    status = Path("/proc/self/status").read_text("utf-8")
    # the high-water mark of this process alone: a child starts with its parent's in getrusage
    peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
    digest = hashlib.blake2b(np.ascontiguousarray(answer).tobytes()).hexdigest()[:16]
    print(json.dumps({"s": took[0], "cpu_s": took[1], "mb": peak, "is": digest, "n": len(answer)}))


def study(jobs: int, workshops: int, ways: tuple[str, ...]) -> dict[str, dict[str, Any]]:
    with tempfile.TemporaryDirectory() as name:
        start = time.perf_counter()
        draw(PoolLaw(workshops, jobs), Path(name))
        print(f"drawn in {time.perf_counter() - start:.1f} s", file=sys.stderr, flush=True)
        done = {way: measured(way, Path(name)) for way in ways}
    if len({each["is"] for each in done.values()}) != 1:
        raise SystemExit(f"the ways differ: {done}")
    return done


def rows() -> list[dict[str, object]]:
    done = study(JOBS, WORKSHOPS, ("duckdb", "pandas"))
    ours, peer = (JOBS / done[way]["s"] for way in ("duckdb", "pandas"))
    return [{
        "name": "pool, counts of closed jobs", "ours": round(ours), "peer": round(peer),
        "peer_name": "pandas", "ratio": round(ours / peer, 2), "unit": "closed jobs a second",
        "work": f"{JOBS:,} jobs of {WORKSHOPS:,} workshops from Parquet to {done['duckdb']['n']:,}"
        f" figures; {done['duckdb']['mb']:.0f} MB against {done['pandas']['mb']:.0f} MB",
    }]  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=10_000_000)
    parser.add_argument("--workshops", type=int, default=1000)
    parser.add_argument("--way", choices=WAYS)
    parser.add_argument("--folder", type=Path)
    given = parser.parse_args()
    if given.way:
        run_way(given.way, given.folder)
        return
    for way, each in study(given.jobs, given.workshops, tuple(WAYS)).items():
        print(
            f"{way}: {each['s']:.2f} s ({each['cpu_s']:.2f} s of processor time),"
            f" {given.jobs / each['s']:,.0f} jobs a second, {each['mb']:.0f} MB at most,"
            f" {each['n']:,} figures, digest {each['is']}"
        )


if __name__ == "__main__":
    main()
