"""Recordings that a phone sends piece by piece."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.workshop.store.store import Store
    from counterpoise.workshop.store.uploads import Arrived


class Uploads:
    """The unfinished and finished uploads of a store."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def arrived(self, job: int, upload: str) -> Arrived:
        """Which pieces have come, and the id of the recording where they are whole."""
        return self._store.arrived(job, upload)

    def unfinished(self, job: int) -> Mapping[str, int]:
        """How many pieces of each unfinished upload of a job have come; empty where there is none."""
        return self._store.waiting(job)

    def keep_part(self, job: int, upload: str, part: tuple[int, bytes]) -> None:
        """Keep a piece (its number, its lines). Raises ConflictError, InputError."""
        self._store.keep_part(job, upload, part)

    def lines(self, upload: str) -> bytes:
        """The lines of all pieces in order."""
        return self._store.captured(upload)

    def complete(self, upload: str, recording: str) -> None:
        """Say which recording an upload has become; its pieces are let go."""
        self._store.complete(upload, recording)
