"""What was worked out of a family, kept as long as the family is: its last few by what they are of.

A cache of the module would keep every family that was ever planned for, hundreds of megabytes each
where a workshop learns and its families change.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import TypeVar, cast

Result = TypeVar("Result")


class Remembered:
    """The last results of each name, at most so many; threads may share it."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: dict[str, OrderedDict[Hashable, object]] = {}

    def of(self, name: str, key: Hashable, compute: Callable[[], Result], most: int) -> Result:
        """The result kept under a name and key; computed where there is none."""
        with self._lock:
            kept = self._kept.setdefault(name, OrderedDict())
            if key in kept:
                kept.move_to_end(key)
                return cast("Result", kept[key])
        # outside the lock: two that compute the same at once get equal results
        result = compute()
        with self._lock:
            kept[key] = result
            while len(kept) > most:
                kept.popitem(last=False)
        return result
