"""One call in a thread of its own, beside the caller's: the kernels leave the other core free."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar, cast

T = TypeVar("T")


class BackgroundCall(Generic[T]):
    """A call that runs from now on. A thread of its own, for a pool would not outlive a fork."""

    def __init__(self, call: Callable[[], T]) -> None:
        self._call = call
        self._result: T | None = None
        self._failure: BaseException | None = None
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._result = self._call()
        except BaseException as failure:  # noqa: BLE001 - raised where the result is asked for
            self._failure = failure

    def result(self) -> T:
        """Wait for the result. Raises what the call raised, whatever Error that was."""
        # wait in any case, so that no thread outlives its workspace
        self._thread.join()
        if self._failure is not None:
            raise self._failure
        return cast("T", self._result)
