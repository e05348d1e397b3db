"""Photos that go with entries."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.workshop.store.store import Store


class Photos:
    """The photos of a store, by id."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add(self, data: bytes) -> str:
        """Keep a photo without its metadata; returns its id. Raises InputError for other bytes."""
        return self._store.add_photo(data)

    def get(self, photo_id: str) -> bytes:
        """A photo as the bytes of a JPEG. Raises NotFoundError."""
        return self._store.photo(photo_id)
