"""How long each page takes, of a workshop that grew against an empty one.

``python -m benchmarks.pages --closed 10000 --open 200``: fills two stores by direct rows (invented
jobs), serves each by ``counterpoise serve``, and asks for every page as a browser does. Prints, by
page, the median and the slowest of the times to the first answer in seconds, to the whole answer
where a page of waiting came first (``whole``), how many such pages came, and the weight of the
page. ``--wait`` is how long the server may work ahead before the first question; ``--keep`` a
folder for the stores.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import numpy as np
from sqlalchemy import insert

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.jobs.entries import Closed, Finding, Intake, Proof, RepairDone
from counterpoise.workshop.jobs.entry_json import body_to_json, kind_of
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.tables import EntryRow, JobRow

YEARS = 10
FIRST_YEAR = 2016
AT_ONCE = 5000
FINDINGS = 12  # of a closed job; 200,000 findings in all with what the open ones have
BROWSER = {"accept": "text/html"}
ASKED = 5  # jobs each page of a job is asked of, or times a page of the workshop
TERMS = {
    "bench_rate_minor": 4800.0, "tax_percent": 19.0, "warranty_months": 12.0, "parts_minor": 2100.0,
}  # fmt: skip
OF_A_JOB = (
    "", "/steps", "/evidence", "/decision", "/estimate", "/quote", "/recording", "/sheet", "/close",
)  # fmt: skip
OF_THE_WORKSHOP = (
    "/jobs", "/jobs/new?family=front_loader", "/yard", "/ledger", "/ledger?month=2020-05",
    "/guarantee?family=front_loader", "/stock", "/prices", "/settings",
)  # fmt: skip


def fill(where: Path | str, closed: int, opened: int) -> None:
    """Fill a store with invented jobs by direct rows; what a job says hangs on its number alone."""
    rows: list[dict[str, Any]] = []
    with Store(where) as store, store.database.writing() as connection:
        for number in range(1, closed + opened + 1):
            share = number / (closed + opened)
            year, month = divmod(int(share * (12 * YEARS - 1)), 12)
            rows += _entries(number, f"{FIRST_YEAR + year}-{month + 1:02d}", done=number <= closed)
            if len(rows) >= AT_ONCE or number == closed + opened:
                jobs = [
                    {"number": row["job"], "opened_at": row["at"]}
                    for row in rows
                    if row["number"] == 1
                ]
                connection.execute(insert(JobRow), jobs)
                connection.execute(insert(EntryRow), rows)
                rows = []


def _entries(number: int, month: str, *, done: bool) -> list[dict[str, Any]]:
    family, rng = load_family("front_loader"), np.random.default_rng([3, number])
    complaints = tuple(rng.choice(list(family.complaints), 2, replace=False).tolist())
    owner: Any = ("workshop", "customer")[int(rng.integers(2))]
    age = float(rng.integers(2, 14))
    bodies: list[Any] = [Intake(family.id, owner, f"No name {number}", complaints, age)]
    plain = [check for check in family.checks.values() if not check.tells and not check.runs]
    for each in rng.permutation(len(plain))[: FINDINGS if done else int(rng.integers(0, 4))]:
        # mostly what a sound part shows: the first outcome
        outcomes = list(plain[each].outcomes)
        bodies.append(Finding(plain[each].id, outcomes[int(rng.random() < 0.1)]))
    if done:
        repair = list(family.repairs)[int(rng.integers(len(family.repairs)))]
        ending = "repair_resell" if owner == "workshop" else "repair_hand_back"
        bodies += [RepairDone(repair), Proof(True), Closed(ending, (), 9000, terms=TERMS)]
    return [
        {
            "job": number, "number": place, "at": f"{month}-{1 + place:02d}T09:00:00Z", "by": "ada",
            "kind": kind_of(body), "body": body_to_json(body),
        }
        for place, body in enumerate(bodies, 1)
    ]  # fmt: skip


class Asked(NamedTuple):
    """One question: seconds to the first answer and the whole one, waits between, its bytes."""

    first_s: float
    whole_s: float
    waits: int
    size: int


def measured(where: Path, closed: int, opened: int, wait_s: float) -> dict[str, list[Asked]]:
    """By page what :func:`_asked` says of each time it was asked."""
    command = [sys.executable, "-m", "counterpoise", "serve", "--port", "0", "--json"]
    command += ["--store", str(where)]
    server = subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"}
    )
    try:
        line = server.stdout.readline() if server.stdout else ""
        address = json.loads(line)["address"]
        # a connection for each: one that was kept may be given up while this waits
        fresh = httpx.Limits(max_keepalive_connections=0)
        with httpx.Client(base_url=address, timeout=600.0, limits=fresh) as client:
            found = {"first page after the start": [_asked(client, "/jobs")]}
            time.sleep(wait_s)
            jobs = [closed + 1 + i % opened for i in range(ASKED)]
            for page in OF_A_JOB:
                found[f"/jobs/#{page}"] = [_asked(client, f"/jobs/{job}{page}") for job in jobs]
            for page in OF_THE_WORKSHOP:
                found[page] = [_asked(client, page) for _ in range(ASKED)]
            found["a finding, and the bench after it"] = [_recorded(client, job) for job in jobs]
    finally:
        server.terminate()
        server.wait()
    return found


def _asked(client: httpx.Client, page: str) -> Asked:
    """Ask for a page until it is whole, as a browser does."""
    begun, first, told = time.perf_counter(), 0.0, 0
    while True:
        answer = client.get(page, headers=BROWSER, follow_redirects=True)
        took = time.perf_counter() - begun
        first = first or took
        if answer.status_code != 202:
            # a quote that is held back until a check is done is an answer too
            if answer.status_code != 422:
                answer.raise_for_status()
            return Asked(first, took, told, len(answer.content))
        told += 1
        time.sleep(float(answer.headers["retry-after"]))


def _recorded(client: httpx.Client, job: int) -> Asked:
    """The same for an answer of the advised check, put down and followed by the bench page."""
    step = client.get(f"/api/jobs/{job}?wait=60").json()["assessment"]["next"]
    begun = time.perf_counter()
    if step and step["kind"] == "check":
        outcome = max(step["answers"], key=lambda each: each["probability"])["outcome"]
        sent = {"check": step["id"], "outcome": outcome}
        # as a form: its answer leads on at once, a program's holds the next step
        posted_form = client.post(f"/jobs/{job}/findings", data=sent)
        if posted_form.status_code != 303:
            raise SystemExit(f"a finding was refused: {posted_form.text[:200]}")
    posted = time.perf_counter() - begun
    then = _asked(client, f"/jobs/{job}")
    return then._replace(first_s=posted + then.first_s, whole_s=posted + then.whole_s)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--closed", type=int, default=10_000)
    parser.add_argument("--open", type=int, default=200)
    parser.add_argument("--wait", type=float, default=20.0, help="seconds to work ahead")
    parser.add_argument("--keep", type=Path, help="folder of the stores; filled where empty")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = given.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        found = []
        for name, closed, opened in (("empty", 0, 1), ("full", given.closed, given.open)):
            where, begun = folder / f"{name}-{closed}-{opened}.db", time.perf_counter()
            if not where.exists():
                fill(where, closed, opened)
                print(f"{name}: filled in {time.perf_counter() - begun:.1f} s", flush=True)
            found.append(measured(where, closed, opened, given.wait))
    print(
        f"{'page':40} {'empty':>7} {'slowest':>7} {'full':>7} {'slowest':>7} {'times':>6} "
        f"{'kB':>5} whole"
    )
    for page in found[0]:
        empty, full = (_figures(each[page]) for each in found)
        waits = f" ({full.waits} times told to wait)" if full.waits else ""
        print(
            f"{page:40} {empty.median_s:7.2f} {empty.slowest_s:7.2f} {full.median_s:7.2f}"
            f" {full.slowest_s:7.2f} {full.median_s / empty.median_s:6.1f} {full.size / 1000:5.0f}"
            f" {full.whole_s:.1f}{waits}"
        )


class Figures(NamedTuple):
    """Median and slowest of the first answers, the most of the rest."""

    median_s: float
    slowest_s: float
    whole_s: float
    waits: int
    size: int


def _figures(times: list[Asked]) -> Figures:
    first, whole, waits, sizes = zip(*times, strict=True)
    return Figures(float(np.median(first)), max(first), max(whole), sum(waits), max(sizes))


if __name__ == "__main__":
    main()
