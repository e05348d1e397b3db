"""What other workshops gave, as files beside the store: one of each, the newest; and our key."""

from __future__ import annotations

import json
import os
from contextlib import suppress
from dataclasses import asdict
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, StoreError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from counterpoise.catalog.family import Family
    from counterpoise.learning.pooling import Start
    from counterpoise.workshop.learning.pool.contribution import Contribution
    from counterpoise.workshop.learning.pool.records import RecordCounts
    from counterpoise.workshop.store.store import Store

_KEY, _OWN, _RECORDS = "key.pem", "given.json", "records-"


class PoolFolder:
    """The folder of a store's pool: ``STORE.pool`` beside it; it need not exist."""

    def __init__(self, store: Store, families: Mapping[str, Family]) -> None:
        url, self._families = store.database.engine.url, families
        # a database on a server has no folder of ours: then it is where the program was started
        here = url.get_backend_name() == "sqlite" and url.database
        self.folder = Path(f"{url.database}.pool" if here else "counterpoise.pool").absolute()
        self._judged: tuple[str, dict[str, str]] = "", {}

    # --- what others gave ---

    def digest(self) -> str:
        """What tells this pool from any other; empty where nobody gave anything."""
        text = "|".join(
            f"{name}:{stamp}" for name, stamp in (*self._files(), *self._files(_RECORDS))
        )
        return blake2b(text.encode(), digest_size=12).hexdigest() if text else ""

    def others(self) -> list[Contribution]:
        """The newest of each other workshop, those that left too. Raises InputError."""
        from counterpoise.workshop.learning.pool.contribution import read_contributions

        texts = [(self.folder / name).read_text("utf-8") for name, _ in self._files()]
        return [each for text in texts for each in read_contributions(text)]

    def take(self, given: Iterable[Contribution]) -> list[Contribution]:
        """Keep what is newer than what is there; returns what was kept. Raises StoreError."""
        from counterpoise.workshop.learning.pool.contribution import merged

        own = self.name() if (self.folder / _KEY).exists() else ""
        before = merged(self.others())
        after = merged([*before.values(), *given])
        # our own counts come from our own jobs: they must not count twice
        new = [e for w, e in after.items() if w != own and before.get(w) != e]
        for each in new:
            self._write(f"{each.workshop}.json", json.dumps(each.to_json(), indent=1) + "\n")
        return new

    def left_out(self) -> dict[str, str]:
        """By workshop why its counts are left out. Raises InputError."""
        from counterpoise.workshop.learning.pool.figures import misfits

        digest = self.digest()
        if self._judged[0] != digest:
            given = self.others()
            named = {family for each in given for family in each.families}
            known = {key: self._families[key] for key in sorted(named) if key in self._families}
            self._judged = digest, misfits(known, given)
        return self._judged[1]

    def starts(self, family: Family) -> dict[str, Start]:
        """What each figure of a family starts from by other workshops. Raises InputError."""
        from counterpoise.workshop.learning.pool.figures import pooled
        from counterpoise.workshop.learning.pool.records import with_records

        if not self.digest():
            return {}
        out = self.left_out()
        starts = pooled(family, [each for each in self.others() if each.workshop not in out])
        return with_records(family, starts, self.records())

    # --- records of others ---

    def records(self) -> list[RecordCounts]:
        """The tables of records that were taken in, by name."""
        from counterpoise.workshop.learning.pool.records import RecordCounts

        texts = [(self.folder / name).read_text("utf-8") for name, _ in self._files(_RECORDS)]
        return [RecordCounts(**json.loads(text)) for text in texts]

    def keep_records(self, counted: RecordCounts) -> None:
        """Keep a table's counts in the place of those of the same name. Raises StoreError."""
        self._write(f"{_RECORDS}{counted.name}.json", json.dumps(asdict(counted), indent=1) + "\n")

    def drop_records(self, name: str) -> RecordCounts:
        """Let a table's counts go, and return them. Raises InputError where there are none."""
        kept = {each.name: each for each in self.records()}
        if name not in kept:
            raise InputError(
                f"No records {name[:60]!r} were taken in",
                field="name",
                remedy=f"There are {', '.join(kept) or 'none'}",
            )
        (self.folder / f"{_RECORDS}{name}.json").unlink()
        return kept[name]

    # --- our own ---

    def own(self) -> Contribution | None:
        """What we gave last; None where we never did. Raises InputError."""
        from counterpoise.workshop.learning.pool.contribution import read_contributions

        file = self.folder / _OWN
        return read_contributions(file.read_text("utf-8"))[0] if file.exists() else None

    def keep_own(self, given: Contribution) -> None:
        """Remember what we gave. Raises StoreError."""
        self._write(_OWN, json.dumps(given.to_json(), indent=1) + "\n")

    def name(self) -> str:
        """What we are called in a pool. Raises StoreError."""
        from counterpoise.workshop.learning.pool.contribution import public_name

        return public_name(self.key())

    def key(self) -> Ed25519PrivateKey:
        """The key we sign with, made when it is first asked for. Raises StoreError, InputError."""
        from cryptography.hazmat.primitives import serialization as form
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        file = self.folder / _KEY
        if not file.exists():
            made = Ed25519PrivateKey.generate()
            text = made.private_bytes(
                form.Encoding.PEM, form.PrivateFormat.PKCS8, form.NoEncryption()
            )
            self._write(_KEY, text.decode(), instead=False)
        try:
            key = form.load_pem_private_key(file.read_bytes(), password=None)
        except (ValueError, TypeError) as error:
            key, why = None, error
        if not isinstance(key, Ed25519PrivateKey):
            # a new one in silence would be another workshop, and the old share could never be left
            raise InputError(
                f"{file} is no key of ours: it was changed or damaged",
                field="key",
                remedy="Put it back from a copy; without it nobody can take your share out",
            ) from (why if key is None else None)
        return key

    # --- files ---

    def _files(self, start: str = "") -> list[tuple[str, str]]:
        """(name, stamp) of what workshops gave, or of what begins with ``start``, sorted."""
        try:
            here = [each for each in os.scandir(self.folder) if each.name.endswith(".json")]
        except FileNotFoundError:
            return []
        # a workshop's file is named by its key of 64 digits
        wanted = [e for e in here if (e.name.startswith(start) if start else len(e.name) == 69)]
        stats = [(each.name, each.stat()) for each in wanted]
        return sorted((name, f"{stat.st_mtime_ns},{stat.st_size}") for name, stat in stats)

    def _write(self, name: str, text: str, *, instead: bool = True) -> None:
        """Write a file of its owner's alone, whole or not at all. Raises StoreError."""
        part = self.folder / f".{name}.{os.getpid()}"
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with os.fdopen(os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "w") as out:
                out.write(text)
                out.flush()
                os.fsync(out.fileno())
            if instead:
                part.replace(self.folder / name)
            else:
                # of two that make a key at once the first one's is kept
                with suppress(FileExistsError):
                    os.link(part, self.folder / name)
                part.unlink()
        except OSError as error:
            raise StoreError(f"{self.folder / name} cannot be written: {error.strerror}") from error


__all__ = ["PoolFolder"]
