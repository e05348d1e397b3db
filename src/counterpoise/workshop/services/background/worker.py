"""One thread for what is worked out ahead: the newest first, and requests before all of it."""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable

# What waits at most: of more than so many machines at once nobody takes the next step.
MOST_WAITING = 16
_LOOK_AGAIN_S, _LONGEST_YIELD_S = 0.02, 2.0
_NICE = 10  # behind whatever a person waits for


class Worker:
    """Works on what is asked for; where nothing is, on ``idle``, until that has nothing to do.

    ``busy`` says whether a person waits for an answer just now: nothing is begun meanwhile.
    """

    def __init__(self) -> None:
        self.idle: Callable[[], bool] = lambda: False
        self.busy: Callable[[], bool] = lambda: False
        self._lock = threading.Lock()
        self._wanted: OrderedDict[Hashable, Callable[[], object]] = OrderedDict()
        self._working = False

    @property
    def interrupted(self) -> bool:
        """Whether something is asked for that goes before what is worked on now."""
        return bool(self._wanted)

    def soon(self, key: Hashable, work: Callable[[], object]) -> None:
        """Do ``work`` soon, before all that was asked for earlier; once for each ``key``."""
        with self._lock:
            # asked for again it goes to the front, and is done once
            self._wanted.pop(key, None)
            self._wanted[key] = work
            while len(self._wanted) > MOST_WAITING:
                # what was asked for longest ago nobody waits for any more
                self._wanted.popitem(last=False)
        self.wake()

    def wake(self) -> None:
        """See whether there is anything to do."""
        with self._lock:
            if self._working:
                return
            self._working = True
        # a page that was answered must not wait for it, nor the program's end
        threading.Thread(target=self._work, daemon=True).start()

    def _work(self) -> None:
        _step_back()
        while True:
            self.let_go_first()
            with self._lock:
                work = self._wanted.popitem()[1] if self._wanted else None
            more = False
            # what cannot be done is said to whoever asks for it, and holds up nothing else
            with contextlib.suppress(Exception):
                more = bool(self.idle()) if work is None else (work(), True)[1]
            # looked at under the lock: what is asked for just now must not be left lying
            with self._lock:
                if work is None and not more and not self._wanted:
                    self._working = False
                    return

    def let_go_first(self) -> None:
        """Wait, a little while at most, until nobody waits for an answer."""
        end = time.monotonic() + _LONGEST_YIELD_S
        # bounded: where somebody always waits, it is done all the same
        while self.busy() and time.monotonic() < end:
            time.sleep(_LOOK_AGAIN_S)


def _step_back() -> None:
    """Put this thread behind the others, where the system lets one."""
    with contextlib.suppress(AttributeError, OSError):
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), _NICE)
