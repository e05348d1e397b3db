"""Recordings of a spin: kept as they came, with what was told of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.workshop.jobs.job_file import NOTHING_TOLD, Facts

if TYPE_CHECKING:
    from counterpoise.workshop.store.store import Store


class Recordings:
    """The recordings of a store, by id (a digest of their bytes)."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add(self, name: str, data: bytes, facts: Facts = NOTHING_TOLD) -> str:
        """Keep a file with what was told of it; returns its id. Raises InputError for its size."""
        return self._store.add_recording(name, data, facts)

    def get(self, recording_id: str) -> tuple[str, bytes]:
        """A recording as (name of its file, bytes). Raises NotFoundError."""
        return self._store.recording(recording_id)

    def facts(self, recording_id: str) -> Facts:
        """What was told of a recording: top speed (rpm), the sound beside it."""
        return self._store.facts(recording_id)
