"""Kernels as plain Python until a problem is worth compiling, then all of them compiled at once.

Loading the compiler takes longer than a small model takes to solve. So a kernel is a plain function
first; the first call outside :func:`interpreted` compiles them all (or loads them from the cache on
disk), and from then on the compiled ones are called. Both give the same numbers to the last bit
where a kernel uses no library sum: a library adds in blocks, the compiled loop in order.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Generic, ParamSpec, TypeVar, cast

import numpy as np

P = ParamSpec("P")
R = TypeVar("R")
_interpreting: ContextVar[bool] = ContextVar("interpreting", default=False)
# Kernels marked and not compiled yet; a module imported later adds its own.
_waiting: list[Kernel[..., object]] = []
# Two threads may call their first kernel at once.
_lock = threading.RLock()


class Kernel(Generic[P, R]):
    """A kernel that is not compiled yet; ``options`` are those of ``numba.njit``."""

    def __init__(self, function: Callable[P, R], options: dict[str, bool]) -> None:
        self.function, self.options = function, options
        self.compiled: Callable[P, R] | None = None
        self.__name__, self.__doc__ = function.__name__, function.__doc__
        # so that tools which look for a signature find the function's
        self.__wrapped__ = function

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Call the compiled kernel; the plain function inside :func:`interpreted`."""
        if self.compiled is None:
            if _interpreting.get():
                return self.function(*args, **kwargs)
            compile_all()
        return cast("Callable[P, R]", self.compiled)(*args, **kwargs)


def kernel(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a function as a kernel."""
    return _wait_for_compilation(function, {"cache": True})


def kernel_nogil(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a function as a kernel that leaves other threads free to run."""
    return _wait_for_compilation(function, {"cache": True, "nogil": True})


def kernel_without_refcounts(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a function as a kernel that makes no array of its own; other threads are free to run.

    Compiled code counts at every call who holds each of the some eighty arrays of a model and a
    workspace, which took a good part of the time. A kernel that makes no array need not count.
    """
    return _wait_for_compilation(function, {"cache": True, "nogil": True, "_nrt": False})


def compile_all() -> None:
    """Compile every kernel marked so far and put it in the place of its plain function.

    One kernel finds another by the name in its module, and the compiler only knows compiled ones:
    so all names are replaced before any kernel is called, that is, before any is compiled.
    """
    from numba import njit

    with _lock:
        # a copy: another module may be importing meanwhile
        kernels = tuple(_waiting)
        jit: Callable[..., Callable[[Callable[..., object]], Callable[..., object]]] = njit
        compiled = {id(each): jit(**each.options)(each.function) for each in kernels}
        for name in {each.function.__module__ for each in kernels}:
            names = vars(sys.modules[name])
            for key, value in list(names.items()):
                if isinstance(value, Kernel):
                    names[key] = value.compiled or compiled[id(value)]
        # last, for a thread that finds one compiled calls it at once, callees and all
        for each in kernels:
            each.compiled = compiled[id(each)]
        del _waiting[: len(kernels)]


@contextmanager
def interpreted() -> Iterator[None]:
    """Run kernels as plain Python in this block, unless they have been compiled already."""
    token = _interpreting.set(True)
    try:
        with np.errstate(
            over="ignore"
        ):  # the hash of a state wraps round; that is what a hash does
            yield
    finally:
        _interpreting.reset(token)


def are_compiled() -> bool:
    """Whether the kernels marked so far have been compiled or loaded."""
    return not _waiting


def _wait_for_compilation(function: Callable[P, R], options: dict[str, bool]) -> Callable[P, R]:
    marked = Kernel(function, options)
    _waiting.append(cast("Kernel[..., object]", marked))
    return marked
