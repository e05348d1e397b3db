"""Writers that are killed while they write: ``python -m benchmarks.kills --kills 500``.

Three writers put notes and pieces down, each write under a key; now and then one of them is killed
(SIGKILL) a hair after an acknowledgement, wherever it then is. It starts again and sends what it
had no answer to once more, under the same key. At the end every acknowledged write must be there,
and no write twice. ``--store`` is a file or a database URL with nothing in it; ``server`` starts a
PostgreSQL server for the tests, which is stopped dead as well after every ``--crash-every`` kills.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import tempfile
import time
import traceback
from collections import Counter
from contextlib import ExitStack
from pathlib import Path

from sqlalchemy import select

from counterpoise.errors import StoreError
from counterpoise.workshop.jobs.entries import Intake, Note
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.store.store import Store
from counterpoise.workshop.store.tables import EntryRow, MovementRow

WRITERS = ("ada", "bo", "cleo")
JOBS = 12  # written to in turn by all three, so that they meet
HAIR_S = 0.006  # a write takes about as long


def acknowledged(log: Path) -> list[int]:
    """The writes of a writer that were answered; a last line that was cut short is no answer."""
    text = log.read_text() if log.exists() else ""
    return [int(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]


def write_on(where: str, who: str, log: Path) -> None:
    """Write without end, from the first write that has no answer yet."""
    number, store = len(acknowledged(log)), None
    with log.open("ab", buffering=0) as answers:
        while True:
            try:
                store = store or Store(where)
                _write(store, who, number)
            except StoreError:
                # the server is gone, somebody has the store, or the one who was killed was
                # quicker after all: sent again, under the same key
                time.sleep(0.02)
                continue
            answers.write(b"%d\n" % number)
            number += 1
            # three at full speed would only wait for each other
            time.sleep(0.002)


def _write(store: Store, who: str, number: int) -> None:
    key, text = f"{who}-{number}", f"{who} {number} {'x' * (number % 7) * 400}"
    if store.writes.known(key) is not None:
        return
    with store.writes.under(key, key) as unit:
        store.jobs.append(1 + number % JOBS, Note(text), by=who)
        if number % 3 == 0:
            # two tables in one transaction: both or neither
            store.stock.receive([Receipt("bench", "pump", "new", 1, "B2", note=text[:200])], who)
        store.writes.finish(unit, {"answer": number})


class Trial:
    """Writers over one store, killed one after another."""

    def __init__(self, where: str, folder: Path, seed: int) -> None:
        self.where, self.folder = where, folder
        self.random = random.Random(seed)
        self.running: dict[str, int] = {}
        with Store(where) as store:
            for _ in range(JOBS):
                store.jobs.open(Intake("bench", "workshop", "One", ()))

    def log(self, who: str) -> Path:
        return self.folder / f"{who}.log"

    def start(self, who: str) -> None:
        # forked, not started: bringing the program in takes longer than a hundred writes
        child = os.fork()
        if child == 0:
            try:
                write_on(self.where, who, self.log(who))
            except Exception:
                traceback.print_exc()
                raise
            finally:
                os._exit(1)
        self.running[who] = child

    def kill(self, who: str) -> None:
        """Kill a writer a hair after its next answer; fails where it does not answer."""
        seen, until = len(acknowledged(self.log(who))), time.monotonic() + 60
        while len(acknowledged(self.log(who))) <= seen:
            if time.monotonic() > until:
                raise SystemExit(f"{who} does not write any more")
            time.sleep(0.001)
        time.sleep(self.random.uniform(0, HAIR_S))
        child = self.running.pop(who)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        # one that had given up by itself was not killed in the middle of its work
        if os.waitstatus_to_exitcode(status) != -signal.SIGKILL:
            raise SystemExit(f"{who} had stopped writing by itself")

    def run(self, kills: int, crash_every: int, crash: list) -> None:
        for who in WRITERS:
            self.start(who)
        for count in range(1, kills + 1):
            who = self.random.choice(WRITERS)
            self.kill(who)
            self.start(who)
            if crash and crash_every and count % crash_every == 0:
                for step in crash:
                    step()
        for who in WRITERS:
            self.kill(who)

    def counted(self) -> dict[str, int]:
        """What was acknowledged, lost, written twice, and written without an answer."""
        with Store(self.where) as store, store.database.reading() as connection:
            bodies = connection.execute(select(EntryRow.body).where(EntryRow.kind == "note"))
            notes = Counter(tuple(body["text"].split()[:2]) for body in bodies.scalars())
            moved = connection.execute(select(MovementRow.note)).scalars()
            pieces = Counter(tuple(note.split()[:2]) for note in moved)
        lost, answered = 0, 0
        for who in WRITERS:
            numbers = acknowledged(self.log(who))
            answered += len(numbers)
            lost += sum(notes[who, str(number)] == 0 for number in numbers)
            lost += sum(pieces[who, str(number)] == 0 for number in numbers if number % 3 == 0)
        # pieces without their note, or a note without its pieces
        halves = sum((int(key[1]) % 3 == 0) != (key in pieces) for key in notes) + sum(
            key not in notes for key in pieces
        )
        twice = sum(count - 1 for count in (*notes.values(), *pieces.values()))
        return {
            "acknowledged": answered,
            "lost": lost,
            "twice": twice,
            "halves": halves,
            "unanswered": len(notes) - answered,
        }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--store", default="", help="a file, a URL, or 'server'; else a new file")
    parser.add_argument("--crash-every", type=int, default=0, help="with 'server': kills between")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with ExitStack() as left:
        folder = Path(left.enter_context(tempfile.TemporaryDirectory()))
        where, crash = given.store or str(folder / "workshop.db"), []
        if where == "server":
            from tests.servers import Server

            server = Server()
            left.callback(server.stop)
            where, crash = server.database(), [server.crash, server.start]
        trial = Trial(where, folder, given.seed)
        begun = time.monotonic()
        try:
            trial.run(given.kills, given.crash_every, crash)
        finally:
            for child in trial.running.values():
                os.kill(child, signal.SIGKILL)
        figures = {"kills": given.kills} | trial.counted()
        print(json.dumps(figures | {"seconds": round(time.monotonic() - begun, 1)}))


if __name__ == "__main__":
    main()
