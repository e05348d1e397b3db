"""How soon a command answers: against the libraries it cannot do without, imported alone."""

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

REPEATS = 5
# what each command needs at least: the command line, and for the list the database and the screen
LISTED = "import click, rich.console, sqlalchemy, sqlalchemy.orm"


def processor_seconds(words: list[str]) -> float:
    """Least processor time of a process over some repeats, in seconds; the first run warms."""
    took = []
    for _ in range(REPEATS + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(took[1:])


def row(name: str, command: list[str], libraries: str, work: str) -> dict[str, object]:
    """A row of the table."""
    ours = processor_seconds(["-m", "counterpoise", *command])
    peer = processor_seconds(["-c", libraries])
    return {
        "name": name,
        "ours": round(ours, 3),
        "peer": round(peer, 3),
        "peer_name": "its libraries imported alone",
        "ratio": round(peer / ours, 3),
        "unit": "s of processor time",
        "work": work,
    }


def rows() -> list[dict[str, object]]:
    """Rows of the table."""
    # without bytecode every run would compile the program anew, which no installed one does
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as folder:
        store = str(Path(folder) / "workshop.db")
        subprocess.run(
            [sys.executable, "-m", "counterpoise", "job", "list", "--store", store],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        return [
            row("start-up, --help", ["--help"], "import click", "counterpoise --help"),
            row(
                "start-up, job list",
                ["job", "list", "--store", store],
                LISTED,
                "counterpoise job list on a current, empty store",
            ),
        ]
