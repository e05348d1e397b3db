"""Who is at which machine just now, and how far each browser has read a job: in memory alone."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

# A page that lies open gives a sign each second or two; a phone in a lift may miss a few.
GONE_S = 20.0
# A workshop has some tens of browsers; a flood of made-up ones pushes out the oldest.
_MOST_SIGNS = 500
_MOST_READ = 2000


class Presence:
    """Signs of browsers (``place``, a word that each keeps) at jobs. Threads may share one.

    ``clock`` counts seconds and never runs back. Nothing of it is kept when the program stops.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        # by browser and job, the one longest without a sign first: two tabs may show two jobs
        self._signs: dict[tuple[str, int], tuple[str, float]] = {}
        self._read: dict[tuple[str, int], int] = {}
        # pages are made by several threads at once
        self._lock = threading.Lock()

    def sign(self, place: str, job: int, name: str) -> None:
        """Somebody looks at a job; ``name`` is empty where it is not known."""
        with self._lock:
            # put in last: the first is the one that gave no sign for longest
            self._signs.pop((place, job), None)
            self._signs[place, job] = name, self._clock()
            while len(self._signs) > _MOST_SIGNS:
                del self._signs[next(iter(self._signs))]

    def read(self, place: str, job: int, last: int) -> int:
        """A browser was shown all up to an entry; returns the last that it had been shown before.

        ``last`` itself where it never saw the job.
        """
        with self._lock:
            # a browser that sees a job for the first time has missed nothing
            before = self._read.pop((place, job), last)
            self._read[place, job] = last
            while len(self._read) > _MOST_READ:
                del self._read[next(iter(self._read))]
            return before

    def moved(self, place: str, job: int) -> None:
        """A browser opened a job: it is no longer at another, unless that one signs again."""
        with self._lock:
            for other in [key for key in self._signs if key[0] == place and key[1] != job]:
                del self._signs[other]

    def here(self, job: int, but: str = "") -> tuple[str, ...]:
        """The names of those at a job, sorted, each once; ``but`` the browser that asks."""
        return self.everywhere(but).get(job, ())

    def everywhere(self, but: str = "") -> dict[int, tuple[str, ...]]:
        """By job the names of those who gave a sign within :data:`GONE_S` seconds, sorted."""
        names: dict[int, set[str]] = {}
        with self._lock:
            since = self._clock() - GONE_S
            self._signs = {key: sign for key, sign in self._signs.items() if sign[1] > since}
            # two browsers of one name are one person: a phone and the computer beside it
            for (place, job), (name, _) in self._signs.items():
                if place != but:
                    names.setdefault(job, set()).add(name)
        return {job: tuple(sorted(each)) for job, each in names.items()}
