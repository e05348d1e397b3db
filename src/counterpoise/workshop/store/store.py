"""The workshop's store by noun: jobs, photos, recordings, uploads, settings, prices and more.

What a method returned is on disk. Bodies of entries are checked here for form only;
:mod:`counterpoise.workshop.jobs.entry_checks` checks them against the catalog first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from counterpoise.workshop.store.closings import Closings
from counterpoise.workshop.store.database import Database, utc_now
from counterpoise.workshop.store.files import Photos, Recordings
from counterpoise.workshop.store.jobs import Jobs
from counterpoise.workshop.store.keeping.personal import Personal
from counterpoise.workshop.store.kept import Kept
from counterpoise.workshop.store.learning import StoredLearning
from counterpoise.workshop.store.people import People
from counterpoise.workshop.store.prices import Prices
from counterpoise.workshop.store.settings import StoredSettings
from counterpoise.workshop.store.stock import Stock
from counterpoise.workshop.store.uploads import Uploads
from counterpoise.workshop.store.writes import Writes

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from types import TracebackType


class Store:
    """A workshop's store; threads may share one.

    ``where`` is a file or a database URL; ``clock`` gives the time put on entries (UTC, ISO 8601).
    Opening migrates the database where needed. Raises StoreError where it cannot be opened.
    """

    def __init__(
        self, where: str | Path = "counterpoise.db", clock: Callable[[], str] = utc_now
    ) -> None:
        # one database, many nouns: each opens transactions of its own
        self.database = Database(where, clock)
        self.jobs = Jobs(self.database)
        self.photos = Photos(self.database)
        self.recordings = Recordings(self.database)
        self.uploads = Uploads(self.database)
        self.settings = StoredSettings(self.database)
        self.prices = Prices(self.database)
        self.stock = Stock(self.database)
        self.writes = Writes(self.database)
        self.learning = StoredLearning(self.database)
        self.kept = Kept(self.database)
        self.closings = Closings(self.database)
        self.personal = Personal(self.database)
        self.people = People(self.database)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.close()

    def now(self) -> str:
        """Return the time that goes on an entry written now (UTC, ISO 8601)."""
        return self.database.clock()

    def close(self) -> None:
        """Let go of the database; a store that is closed opens it again by itself when asked."""
        self.database.engine.dispose()
