"""Whoever is wrong again and again waits longer each time; nobody else waits with them."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

# A slip of the finger, twice, and once more, costs nobody any time.
FREE = 5
LONGEST_S = 60.0
# Forgotten after a quarter of an hour without another failure.
KEPT_S = 900.0
MOST_KEYS = 1000


@dataclass(slots=True)
class _Failures:
    count: int
    until: float
    last: float


class Patience:
    """Failures by key (an address, or a name at an address), and how long each has to wait.

    ``clock`` counts seconds and never runs back. Threads may share one.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._failures: dict[Hashable, _Failures] = {}
        self._lock = threading.Lock()

    def wait_s(self, key: Hashable) -> float:
        """How many seconds it has to wait before it is listened to again; 0 where not at all."""
        with self._lock:
            known = self._failures.get(key)
            return max(0.0, known.until - self._clock()) if known else 0.0

    def failed(self, key: Hashable, free: int = FREE) -> None:
        """Count a failure: after ``free`` the wait is 1 s, and doubles each time up to 60 s."""
        now = self._clock()
        with self._lock:
            known = self._failures.pop(key, None)
            # somebody who was wrong this morning begins anew
            fresh = known is None or now - known.last > KEPT_S
            count = 1 if fresh or known is None else known.count + 1
            # a large power would be no number any more
            wait = min(LONGEST_S, 2.0 ** min(count - free - 1, 10)) if count > free else 0.0
            # put in last: the first is the one that failed longest ago
            self._failures[key] = _Failures(count, now + wait, now)
            while len(self._failures) > MOST_KEYS:
                del self._failures[next(iter(self._failures))]

    def forgiven(self, key: Hashable) -> None:
        """Take back the failure counted last, and the wait that came of it."""
        with self._lock:
            known = self._failures.get(key)
            if known is not None:
                known.count, known.until = known.count - 1, 0.0

    def succeeded(self, key: Hashable) -> None:
        """Forget its failures."""
        with self._lock:
            self._failures.pop(key, None)
