"""A copy of a store as it is before a migration touches it: beside it, checked, the last few kept.

Of a file it is a file beside it, named by revision and time; of a database on a server a schema of
the same database, for a server has no folder of ours.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from glob import escape
from pathlib import Path

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from counterpoise.errors import StoreError

KEPT = 3  # copies; older ones make room once a newer one is checked
_PREFIX = "before_"


def keep_copy(connection: Connection, revision: str) -> str:
    """Copy the store that a connection is about to change, and return the copy's file or schema.

    Raises StoreError where there can be none; then nothing may be changed.
    """
    # the time of this computer: a copy is found by it, nothing is reckoned with it
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    try:
        if connection.dialect.name == "postgresql":
            return _schema(connection, f"{_PREFIX}{revision}_{stamp.lower()}")
        return str(_file(Path(connection.engine.url.database or ""), revision, stamp))
    except (OSError, sqlite3.Error, DBAPIError) as error:
        said = getattr(error, "orig", error)
        raise StoreError(
            f"Before the store is brought up to date a copy is kept, and it could not be made:"
            f" {said}. Nothing was changed. Make room or see who may write there."
        ) from error


def copies_beside(store: Path) -> list[Path]:
    """The copies of a file that were kept before migrations, the oldest first."""
    # stamps of one form sort as times; a copy is told by its stamp, not by its revision
    kept = store.parent.glob(f"{escape(store.stem)}.{_PREFIX}*{escape(store.suffix)}")
    return sorted(kept, key=lambda path: path.name.removesuffix(store.suffix).rsplit("_", 1)[-1])


def all_copies(connection: Connection) -> list[str]:
    """The copies kept of a store, the oldest first: files, or schemas on a server."""
    if connection.dialect.name == "postgresql":
        return _schemas(connection)
    return [str(path) for path in copies_beside(Path(connection.engine.url.database or ""))]


def _schemas(connection: Connection) -> list[str]:
    kept = [each for each in inspect(connection).get_schema_names() if each.startswith(_PREFIX)]
    return sorted(kept, key=lambda each: each.rsplit("_", 1)[-1])


def _file(store: Path, revision: str, stamp: str) -> Path:
    copy = store.with_name(f"{store.stem}.{_PREFIX}{revision}_{stamp}{store.suffix}")
    # names and telephone numbers are in it: nobody else on this computer may read it
    os.close(os.open(copy, os.O_CREAT | os.O_WRONLY, 0o600))
    # a connection of its own: it sees what is committed, and whoever called holds the write lock
    with closing(sqlite3.connect(store)) as here, closing(sqlite3.connect(copy)) as there:
        here.backup(there)
        sound = there.execute("PRAGMA integrity_check").fetchone()[0]
        if sound != "ok" or _counts(here) != _counts(there):
            raise StoreError(
                f"The copy of the store at {copy} is not what it was made of ({sound})."
                " Nothing was changed. Look at the disk."
            )
    # only now: a copy that failed its check must not push out one that is sound
    for old in copies_beside(store)[:-KEPT]:
        old.unlink()
    return copy


def _counts(database: sqlite3.Connection) -> dict[str, int]:
    names = database.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    # names of our own tables, no text of a user's
    return {
        name: database.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
        for (name,) in names.fetchall()
    }


def _schema(connection: Connection, name: str) -> str:
    # a name of our own letters and digits, so it needs no quoting
    tables = sorted(inspect(connection).get_table_names())
    connection.execute(text(f"CREATE SCHEMA {name}"))
    for table in tables:
        copy = f'{name}."{table}"'
        # with its keys, so that it can be read in order; in the transaction of the migration
        connection.execute(text(f'CREATE TABLE {copy} (LIKE "{table}" INCLUDING ALL)'))
        connection.execute(text(f'INSERT INTO {copy} SELECT * FROM "{table}"'))  # noqa: S608
    for old in _schemas(connection)[:-KEPT]:
        connection.execute(text(f"DROP SCHEMA {old} CASCADE"))
    return name
