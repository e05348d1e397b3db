"""Backups by themselves while the pages are served: ``counterpoise serve --backup-every HOURS``."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import click

from counterpoise.cli.common import FAMILIES_VARIABLE, STORE_VARIABLE

# a month of nights; older ones make room once a newer one was checked
KEPT = 30
# after a backup that failed: soon enough to matter, seldom enough to be read
_AGAIN_S = 3600.0
# behind whoever waits for a page
_NICE = 10


@dataclass(frozen=True, slots=True)
class Schedule:
    """Backups of a store into a folder, one every so many hours.

    ``families``: the folder of the workshop's own; empty for the one beside the store.
    """

    where: str
    place: Path
    every_hours: float
    families: str = ""

    def begin(self) -> threading.Thread:
        """Make backups from now on, in a thread that ends with the program."""
        thread = threading.Thread(target=self.run, args=(threading.Event(),), daemon=True)
        thread.start()
        return thread

    def run(self, stop: threading.Event) -> None:
        """Wait until one is due, make it, and so on until told to stop."""
        wait = self.due_in(datetime.now(UTC))
        while not stop.wait(wait):
            # a night that failed is tried again, and does not wait for the next
            made = self.make()
            wait = self.due_in(datetime.now(UTC)) if made else min(_AGAIN_S, self._every_s)

    @property
    def _every_s(self) -> float:
        return self.every_hours * 3600

    def due_in(self, now: datetime) -> float:
        """Seconds until the next is due, 0 where it is; told by the last that lies there.

        So a server that is started anew each morning makes one a day all the same.
        """
        from counterpoise.workshop.store.keeping.archive import backups_in

        made = backups_in(self.place)
        if not made:
            return 0.0
        last = datetime.strptime(made[-1].stem.removeprefix("counterpoise-"), "%Y%m%dT%H%M%S%z")
        # a clock set back must not put the next one off for years
        return min(max(0.0, self._every_s - (now - last).total_seconds()), self._every_s)

    def make(self) -> bool:
        """Make a backup in a process of its own; whether it was made. Says on stderr if not."""
        # of its own: reading ten years of entries must not hold up a page
        words = ["store", "backup", str(self.place), "--keep", str(KEPT), "--json"]
        # by the environment and not the command line, which everybody on the computer can read
        environment = os.environ | {STORE_VARIABLE: self.where}
        if self.families:
            environment[FAMILIES_VARIABLE] = self.families
        with subprocess.Popen(  # noqa: S603  # our own program, with a folder the owner named
            [sys.executable, "-m", "counterpoise", *words],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        ) as process:
            with suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, process.pid, _NICE)
            said = process.communicate()[0]
        if process.returncode == 0:
            return True
        click.echo(
            f"No backup was made at {datetime.now(UTC):%Y-%m-%d %H:%M} UTC: {said}", err=True
        )
        return False
