"""A recorded set of jobs, to hold two states of the program against each other.

``record`` serves a fresh workshop in a temporary folder, opens varied jobs over the JSON API, works
on each by the step it is advised, and keeps what pages, JSON twins and the terminal then say, one
text file for each address. Only what a user sees is used: addresses, forms, commands. What was
asked is kept in ``requests.json``; ``record --replay`` asks the same again of another state of the
program, also where that one would advise another step. ``compare`` says which of two sets differ.

    python -m benchmarks.behaviour record --source src --out build/before
    python -m benchmarks.behaviour record --source src --out build/after
        --replay build/before/requests.json
    python -m benchmarks.behaviour compare build/before build/after

What changes by itself (times, days, ports, folders, names inside drawings) is made alike: days are
written by their distance from the day of the recording. Drawings are kept as their words and a
digest of their lines, photos and papers as a digest.
"""

from __future__ import annotations

import argparse
import json
import shlex
import shutil
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.behaviour.comparing import compare
from benchmarks.behaviour.constants import REQUESTS
from benchmarks.behaviour.reading import play_all, replay
from benchmarks.behaviour.server import workshop


def record(given: argparse.Namespace) -> int:
    """Record a set of jobs."""
    out = given.out
    if out.exists() and any(out.iterdir()):
        if not (out / REQUESTS).exists():
            raise SystemExit(f"{out} is not empty, and holds no recording to write over")
        if given.replay and given.replay.resolve().is_relative_to(out.resolve()):
            raise SystemExit("--replay: would be written over; name another --out")
        shutil.rmtree(out)
    asked = json.loads(given.replay.read_text(encoding="utf-8")) if given.replay else None
    out.mkdir(parents=True, exist_ok=True)
    begun = time.monotonic()
    with workshop(given.source, out, shlex.split(given.program)) as desk:
        try:
            if asked is None:
                play_all(desk, given.jobs, given.seed, given.cli)
            else:
                replay(desk, asked)
        finally:
            desk.keep_asked()
    count = sum(1 for file in out.rglob("*") if file.is_file())
    print(f"{count} files in {out}, in {(time.monotonic() - begun) / 60:.1f} minutes")
    return 0


def main(words: Sequence[str] | None = None) -> int:
    """Read the command line, and do it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    ways = parser.add_subparsers(required=True, metavar="record|compare")
    made = ways.add_parser("record", help="record a set of jobs")
    made.add_argument("--source", type=Path, required=True, help="folder that holds the package")
    made.add_argument("--out", type=Path, required=True, help="folder to write")
    made.add_argument("--jobs", type=int, default=50, help="how many; usually 50")
    made.add_argument("--seed", type=int, default=1, help="seed of everything drawn")
    made.add_argument("--replay", type=Path, metavar="FILE", help=f"ask what this {REQUESTS} says")
    made.add_argument(
        "--program", default=f"{shlex.quote(sys.executable)} -m counterpoise",
        help="how the program is started",
    )  # fmt: skip
    made.add_argument(
        "--cli", action="append", default=[], metavar="WORDS",
        help="a command to keep, in place of the usual ones, like 'job next {n}'; {n} is each job, "
        "what it writes to {file} is kept too; may be given several times",
    )  # fmt: skip
    made.set_defaults(do=record)
    held = ways.add_parser("compare", help="say what differs; exit status 1 where anything does")
    held.add_argument("before", type=Path)
    held.add_argument("after", type=Path)
    held.add_argument("--lines", type=int, default=12, help="most lines shown of a difference")
    held.add_argument("--digits", type=int, default=0, help="round long numbers; 0: not at all")
    held.set_defaults(do=compare)
    given = parser.parse_args(words)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # the server is stopped as well
    return int(given.do(given))


if __name__ == "__main__":
    sys.exit(main())
