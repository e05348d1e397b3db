"""Many phones at one workshop: ``python -m benchmarks.phones --phones 20 --minutes 10``.

Each phone is a hand at its own machine: it looks at the list, opens a job, answers the step that is
advised (now and then twice, as after a lost answer), looks at evidence, quote or the shelf, and
thinks for a while. They all do so at once, on a store with 10,000 closed and 200 open jobs, and
before that one phone alone on a store with a few. Prints by page how many were asked, the median
and the 95th percentile in seconds until something is shown, both ways, then how many requests
failed, how many pages of waiting came first, and what was acknowledged, lost and written twice.
``--server`` keeps the large store on a PostgreSQL server for the tests. ``--think`` are the seconds
between two actions, on average.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import numpy as np
from sqlalchemy import select

from benchmarks.pages import BROWSER, fill
from counterpoise.web.form_marks import KEY
from counterpoise.web.sending.markup import Piece, take_apart
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.tables import EntryRow

A_FEW = 20  # open jobs of the workshop that is otherwise empty
TWICE = 0.1  # share of answers that are sent again, as after a lost line
WRITTEN = {"/findings": "a finding", "/repairs": "a repair", "/proofs": "a proof"}
# what a hand looks at between two answers, and how often
LOOKS = {
    "/jobs": 4, "/jobs/#/evidence": 2, "/jobs/#/steps": 1, "/jobs/#/quote": 1, "/jobs/#/sheet": 1,
    "/jobs?q=name": 1, "/stock": 1, "/ledger": 0.3, "/yard": 0.3,
}  # fmt: skip


@dataclass
class Tally:
    """What the phones saw, together: seconds by page, what went wrong, what was acknowledged."""

    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    waits: int = 0
    wrong: Counter[str] = field(default_factory=Counter)
    acknowledged: list[str] = field(default_factory=list)
    behind: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)


class Phone:
    """One hand: asks for pages as a browser does and fills in the forms that stand on them."""

    def __init__(self, name: str, address: str, jobs: list[int], tally: Tally, seed: int) -> None:
        self.name, self.jobs, self.tally = name, jobs, tally
        self.random = random.Random(seed)
        fresh = httpx.Limits(max_keepalive_connections=0)
        self.client = httpx.Client(base_url=address, timeout=120.0, limits=fresh, headers=BROWSER)
        self.client.headers["origin"] = address
        self.written = 0

    def work(self, until: float, think_s: float) -> None:
        """Look and answer in turn until then; ends by itself, whatever the server says."""
        # not all at the same moment
        time.sleep(self.random.uniform(0, min(think_s, until - time.monotonic())))
        while time.monotonic() < until:
            try:
                self._one()
            except httpx.HTTPError as error:
                with self.tally.lock:
                    self.tally.wrong[type(error).__name__] += 1
            time.sleep(self.random.expovariate(1 / think_s) if think_s else 0)

    def _one(self) -> None:
        job = self.random.choice(self.jobs)
        if self.random.random() < 0.5:
            shape = self.random.choices(list(LOOKS), list(LOOKS.values()))[0]
            self.look(shape, shape.replace("#", str(job)))
            return
        page = self.look("/jobs/#", f"/jobs/{job}")
        form = _answer(page, self.random, f"{self.name} {self.written}")
        if form is not None:
            self._send(*form, job)

    def look(self, shape: str, address: str) -> str:
        begun, first = time.perf_counter(), 0.0
        while True:
            answer = self.client.get(address, follow_redirects=True)
            first = first or time.perf_counter() - begun
            if answer.status_code != 202:
                break
            with self.tally.lock:
                self.tally.waits += 1
            time.sleep(float(answer.headers["retry-after"]))
        self._note(shape, first, answer.status_code)
        return answer.text

    def _send(self, action: str, fields: dict[str, str], job: int) -> None:
        begun = time.perf_counter()
        answer = self.client.post(action, data=fields)
        shape = WRITTEN[action.removeprefix(f"/jobs/{job}")]
        self._note(shape, time.perf_counter() - begun, answer.status_code)
        if answer.status_code == 303:
            with self.tally.lock:
                self.tally.acknowledged.append(fields["note"])
            self.written += 1
            if self.random.random() < TWICE:
                again = self.client.post(action, data=fields)
                self._note(f"{shape}, sent again", 0.0, again.status_code)

    def _note(self, shape: str, seconds: float, status: int) -> None:
        with self.tally.lock:
            if status == 409:
                # somebody else wrote to that job: said, with what was typed still there
                self.tally.behind += 1
            elif status >= 400 and status != 422:
                # 422 is a quote that is held back until a check is done
                self.tally.wrong[f"{status} {shape}"] += 1
            self.tally.seconds[shape].append(seconds)


def _answer(
    page: str, chance: random.Random, note: str
) -> tuple[str, dict[str, str]] | None:  # fmt: skip
    """Action and fields of the form that answers the advised step; None where there is none."""
    pieces = take_apart(page)
    for place, form in enumerate(pieces):
        action = form.attributes.get("action", "")
        if form.tag != "form" or not action.endswith(tuple(WRITTEN)):
            continue
        inside = pieces[place + 1 : form.end]
        fields = {
            piece.attributes["name"]: piece.attributes.get("value", "")
            for piece in inside
            if piece.tag == "input" and piece.attributes.get("type") == "hidden"
        }
        pressed = _buttons(inside)
        if KEY in fields and (pressed or action.endswith("/repairs")):
            if pressed:
                # mostly what a sound part shows: the first answer
                fields |= pressed[0 if chance.random() < 0.7 else chance.randrange(len(pressed))]
            return action, fields | {"note": note}
    return None


def _buttons(inside: list[Piece]) -> list[dict[str, str]]:
    return [
        {piece.attributes["name"]: piece.attributes["value"]}
        for piece in inside
        if piece.tag == "button" and piece.attributes.get("value") and piece.attributes.get("name")
    ]


def run(where: str, jobs: list[int], phones: int, minutes: float, think_s: float) -> Tally:
    """Serve the store and let the phones work on it; what they saw."""
    command = [sys.executable, "-m", "counterpoise", "serve", "--port", "0", "--json"]
    server = subprocess.Popen(
        [*command, "--store", where],
        stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    tally = Tally()
    try:
        address = json.loads(server.stdout.readline() if server.stdout else "{}")["address"]
        # warm, as in a workshop that opened an hour ago
        warm = Phone("warm", address, jobs, Tally(), 0)
        warm.look("/jobs", "/jobs")
        warm.look("/jobs/#", f"/jobs/{jobs[0]}")
        until = time.monotonic() + 60 * minutes
        hands = [Phone(f"hand{i}", address, jobs, tally, i) for i in range(phones)]
        at_work = [threading.Thread(target=each.work, args=(until, think_s)) for each in hands]
        for each in at_work:
            each.start()
        for each in at_work:
            each.join()
    finally:
        server.terminate()
        server.wait()
    return tally


def counted(where: str, tally: Tally) -> dict[str, int]:
    """What was acknowledged, and how much of it is lost or there twice."""
    with Store(where) as store, store.database.reading() as connection:
        bodies = connection.execute(select(EntryRow.body)).scalars()
        notes = Counter(body["note"] for body in bodies if body.get("note", "").startswith("hand"))
    lost = sum(notes[note] == 0 for note in tally.acknowledged)
    twice = sum(count - 1 for count in notes.values())
    return {"acknowledged": len(tally.acknowledged), "lost": lost, "twice": twice}


def _show(alone: Tally, together: Tally) -> None:
    print(f"{'page':24} {'alone':>6} {'median':>7} {'p95':>6} {'all':>6} {'median':>7} {'p95':>6}")
    for shape in sorted(together.seconds):
        figures = []
        for tally in (alone, together):
            times = tally.seconds.get(shape) or [float("nan")]
            middle, upper = np.percentile(times, [50, 95])
            figures.append(f"{len(times):6} {middle:7.3f} {upper:6.3f}")
        print(f"{shape:24} {' '.join(figures)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--phones", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--think", type=float, default=15.0)
    parser.add_argument("--closed", type=int, default=10_000)
    parser.add_argument("--open", type=int, default=200)
    parser.add_argument("--server", action="store_true", help="the large store on PostgreSQL")
    given = parser.parse_args()
    with ExitStack() as left:
        folder = Path(left.enter_context(tempfile.TemporaryDirectory()))
        small, large = str(folder / "small.db"), str(folder / "large.db")
        if given.server:
            from tests.servers import Server

            server = Server()
            left.callback(server.stop)
            large = server.database()
        fill(small, 0, A_FEW)
        fill(large, given.closed, given.open)
        alone = run(small, list(range(1, A_FEW + 1)), 1, given.minutes / 2, given.think / 10)
        jobs = list(range(given.closed + 1, given.closed + given.open + 1))
        together = run(large, jobs, given.phones, given.minutes, given.think)
        _show(alone, together)
        requests = sum(map(len, together.seconds.values()))
        print(
            json.dumps(
                counted(large, together)
                | {
                    "requests": requests,
                    "a_second": round(requests / (60 * given.minutes), 2),
                    "waits": together.waits,
                    "conflicts": together.behind,
                    "wrong": dict(together.wrong),
                    "wrong_alone": dict(alone.wrong),
                }
            )
        )


if __name__ == "__main__":
    main()
