"""A workshop moved to another store: copied in one transaction, and compared row by row."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect

from counterpoise.errors import InputError, StoreError
from counterpoise.workshop.store.engine import (
    HEAD,
    database_file,
    migrate,
    open_engine,
    revision_of,
)
from counterpoise.workshop.store.keeping.before import all_copies
from counterpoise.workshop.store.keeping.rows import Sum, compare, count_all, read, tables, write


def move(source: str | Path, target: str | Path) -> dict[str, Sum]:
    """Copy a store into another that is empty, and return what each table holds.

    Both are files or URLs. The source stays as it is. Raises InputError where the target holds
    something, StoreError where something does not arrive as it was; then the target has nothing.
    """
    with reading_store(source) as here, new_store(target) as there:
        # at the revision of the source, so that row can be held against row
        revision = str(revision_of(here))
        lay_down(there, revision)
        ours = {table.name: table for table in tables(here)}
        # in the order of where they go: a copy kept on a server no longer says what points at what
        for table in tables(there):
            with closing(read(here, ours[table.name])) as rows:
                write(there, table, rows)
        sums = compare(here, there)
        # a store of before is brought up to date where it arrives, not where it came from
        migrate(there, copied=True)
        return sums


def upgrade(where: str | Path) -> tuple[str, str, str]:
    """Bring a store up to date: its revision before and after, and the copy kept of it before.

    The copy is empty where there was nothing to do. Raises StoreError; then nothing was changed.
    """
    with reading_store(where) as connection:
        before = str(revision_of(connection))
    # nothing is copied or locked where there is nothing to do
    if before == HEAD:
        return before, before, ""
    engine = open_engine(where)
    try:
        with engine.connect() as connection:
            return before, str(revision_of(connection)), all_copies(connection)[-1]
    finally:
        engine.dispose()


@contextmanager
def reading_store(where: str | Path) -> Iterator[Connection]:
    """One state of a store, of any revision that this program knows. Raises StoreError."""
    file = database_file(where)
    # opening would make the file, and an empty store would be moved
    if file is not None and not file.is_file():
        raise StoreError(f"There is no store at {file}.")
    with _engine(where) as engine, engine.connect() as connection, connection.begin():
        if revision_of(connection) is None:
            raise StoreError("There is no store of this program in it.")
        yield connection


@contextmanager
def new_store(where: str | Path) -> Iterator[Connection]:
    """A transaction on a database with nothing in it, kept where no error is raised.

    Raises InputError where something is in it.
    """
    file = database_file(where)
    made = file is not None and not file.exists()
    try:
        with (
            _engine(where) as engine,
            engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            # asked under the lock: nobody can begin to write there in between
            _refuse_full(connection)
            yield connection
    except BaseException:
        # what was made for nothing is no store, and the next try must not find it full
        if made and file is not None:
            for each in (file, *(file.with_name(file.name + end) for end in ("-wal", "-shm"))):
                each.unlink(missing_ok=True)
        raise


def lay_down(connection: Connection, revision: str) -> None:
    """Make the tables of a revision in a database with nothing in it. Raises StoreError."""
    there = revision_of(connection)
    if there == HEAD != revision:
        raise StoreError(
            f"What comes is of revision {revision}, and tables of {HEAD} are there already."
            " Give a place where no store was laid down yet."
        )
    migrate(connection, revision, copied=True)


def _refuse_full(connection: Connection) -> None:
    names = inspect(connection).get_table_names()
    # laid down beside somebody else's tables, names of both might meet
    if names and revision_of(connection) is None:
        raise InputError(
            "Another program's tables are there", field="to", remedy="Give a database of its own"
        )
    if names and (rows := count_all(connection)):
        raise InputError(
            f"A store with {rows} rows is there already; nothing was written",
            field="to",
            remedy="Give a file that does not exist, or an empty database",
        )


@contextmanager
def _engine(where: str | Path) -> Iterator[Engine]:
    engine = open_engine(where, migrated=False)
    try:
        yield engine
    finally:
        engine.dispose()
