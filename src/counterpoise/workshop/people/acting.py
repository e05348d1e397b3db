"""Whose hand writes now: what a person who is signed in writes is theirs, whatever a form says."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

# Carried into the threads that a request is handed to.
_acting: ContextVar[str] = ContextVar("counterpoise_acting", default="")


@contextmanager
def acting(name: str) -> Iterator[None]:
    """Let everything written meanwhile be by a person; empty: by whoever is said."""
    before = _acting.set(name)
    try:
        yield
    finally:
        _acting.reset(before)


def signed(by: str) -> str:
    """Who writes: the person signed in, else whoever was said."""
    return _acting.get() or by
