"""Opens the database of a store: pragmas, transactions that lock at their start, migrations.

SQLite runs in write-ahead mode with ``synchronous=FULL``: what a commit acknowledged survives a
killed process and a pulled plug. A transaction that will write takes the write lock at its start,
so that two writers queue up. PostgreSQL is held to the same: one lock for all writers of a store,
and whoever only reads sees one state of it.
"""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from functools import partial
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError, DBAPIError

from counterpoise.errors import StoreError
from counterpoise.workshop.store.keeping.before import keep_copy
from counterpoise.workshop.store.opening.faults import in_words
from counterpoise.workshop.store.opening.files import claim, make_folder
from counterpoise.workshop.store.opening.owner import check_ours

# the newest revision under migrations/versions; a test holds the two together
HEAD = "0009"
# a writer waits so long for another: longer than the largest import takes
BUSY_SECONDS = 20.0
# any number of our own: PostgreSQL lets one session at a time write under it
_WRITING = "SELECT pg_advisory_xact_lock(70410001)"
_READING = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"
# what a session of PostgreSQL is set to, whatever the server's defaults are
_SESSION = (
    f"SET lock_timeout = '{BUSY_SECONDS:.0f}s'",
    # a computer that vanished in the middle of a write must not keep the others from theirs
    "SET idle_in_transaction_session_timeout = '5min'",
    # what was acknowledged is on disk; a server that is stricter stays stricter
    """SELECT set_config('synchronous_commit', 'on', false)
    WHERE current_setting('synchronous_commit') = 'off'""",
)
# Alembic keeps its context in module globals
_one_at_a_time = threading.Lock()
# NaN is no JSON: PostgreSQL refuses it, and so does whoever reads an export
_to_json = partial(json.dumps, allow_nan=False, ensure_ascii=False)


def open_engine(where: str | Path, *, migrated: bool = True) -> Engine:
    """Return an engine on a database, brought up to date where ``migrated``. Raises StoreError.

    ``where`` is a file or a database URL.
    """
    url = _url(where)
    if url.get_backend_name() == "sqlite":
        _make_room(url)
    # what is said of the store goes to screens and logs, its password does not
    named = url.render_as_string(hide_password=True)
    try:
        engine = create_engine(url, json_serializer=_to_json, **_arguments(url))
    except ModuleNotFoundError as error:
        raise StoreError(
            f"The store at {named} cannot be opened: {error}."
            " Install the driver with: pip install 'counterpoise[postgres]'"
        ) from error
    except ArgumentError as error:
        raise StoreError(f"The store at {named} cannot be opened: {error}") from error
    server = engine.dialect.name == "postgresql"
    event.listen(engine, "connect", _on_connect_server if server else _on_connect)
    event.listen(engine, "begin", _on_begin_server if server else _on_begin)
    try:
        _prepare(engine, named, migrated=migrated)
    except StoreError:
        engine.dispose()
        raise
    except (DBAPIError, sqlite3.Error) as error:
        engine.dispose()
        what = f"The store at {named} cannot be opened"
        raise in_words(what, error, "Is it a store of this program?") from error
    return engine


def _url(where: str | Path) -> URL:
    # a name without a scheme is a file, also one with colons in it
    if isinstance(where, Path) or "://" not in where:
        url = URL.create("sqlite", database=str(where))
    else:
        try:
            url = make_url(where)
        except ArgumentError as error:
            raise StoreError(
                "The store is given neither as a file nor as a database URL"
            ) from error
    kind = url.get_backend_name()
    if kind == "sqlite":
        return url
    if kind in {"postgresql", "postgres"}:
        # the driver is ours to choose, where the address names none
        return url if "+" in url.drivername else url.set(drivername="postgresql+psycopg")
    raise StoreError(
        f"A store cannot be kept in {kind}. Give a file, or postgresql://USER@HOST/DATABASE."
    )


def database_file(where: str | Path) -> Path | None:
    """The file of a store, None where it is on a server. Raises StoreError."""
    url = _url(where)
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


def _make_room(url: URL) -> None:
    # a database in memory would be another one for every connection, too
    if not url.database or url.database == ":memory:":
        raise StoreError("A store in memory would lose what it acknowledged. Give a file for it.")
    try:
        make_folder(Path(url.database).absolute().parent)
    except OSError as error:
        raise StoreError(
            f"The folder of the store {url.database} cannot be made: {error.strerror}"
        ) from error
    # an address of SQLite's own kind ("file:...?mode=ro") names no file that we could begin
    if not url.database.startswith("file:"):
        claim(Path(url.database))


def _arguments(url: URL) -> dict[str, object]:
    if url.get_backend_name() == "sqlite":
        # threads take turns at a connection, each transaction in one thread only
        return {"connect_args": {"timeout": BUSY_SECONDS, "check_same_thread": False}}
    # a server may have been restarted since the last request
    return {"pool_pre_ping": True}


def _on_connect(connection: sqlite3.Connection, _record: object) -> None:
    # the driver's own BEGIN comes too late and locks too little
    connection.isolation_level = None
    # SQLite forgets both with the connection; foreign keys are off unless asked for
    for pragma in ("foreign_keys = ON", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _on_begin(connection: Connection) -> None:
    # a transaction that begins to write later may find the lock taken and fail at once
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _on_connect_server(connection: DBAPIConnection, _record: object) -> None:
    cursor = connection.cursor()
    for statement in _SESSION:
        cursor.execute(statement)
    cursor.close()
    # settings made in a transaction are gone where it is taken back
    connection.commit()


def _on_begin_server(connection: Connection) -> None:
    # The sums, last numbers and copies of a store hold because writers come one after another;
    # a reader needs no lock, but must not see half of what somebody writes meanwhile.
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql(_WRITING if writes else _READING)


def _prepare(engine: Engine, named: str, *, migrated: bool) -> None:
    with engine.connect() as connection:
        version = revision_of(connection)
        # before anything is changed in it: it may be another program's
        if version != HEAD and migrated:
            check_ours(connection, named)
    if engine.dialect.name == "sqlite":
        _write_ahead(engine)
    # looked at without a lock first: opening an up-to-date store makes nobody wait
    if version != HEAD and migrated:
        with (
            _one_at_a_time,
            engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            migrate(connection)


def _write_ahead(engine: Engine) -> None:
    """Switch to write-ahead mode."""
    # the switch does not wait its turn by itself while another process does the same
    raw = engine.raw_connection()
    until = time.monotonic() + BUSY_SECONDS
    try:
        while True:
            try:
                raw.cursor().execute("PRAGMA journal_mode = WAL")
            except sqlite3.OperationalError as error:
                # the driver's own waiting time does not hold for this statement
                if "locked" not in str(error) or time.monotonic() > until:
                    raise
                time.sleep(0.02)
            else:
                return
    finally:
        raw.close()


def revision_of(connection: Connection) -> str | None:
    """The revision that a database is at, None where no store was laid down in it."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar()


def _check_letters(connection: Connection) -> None:
    """Raise StoreError where a server's database does not hold every letter."""
    if connection.dialect.name != "postgresql":
        return
    letters = connection.execute(text("SHOW server_encoding")).scalar()
    if letters != "UTF8":
        raise StoreError(
            f"The database keeps its texts as {letters}, not as UTF8: names would be lost in it."
            " Make one with: createdb --encoding UTF8 --template template0 NAME"
        )


def migrate(connection: Connection, to: str = "head", *, copied: bool = False) -> None:
    """Bring a database to a revision within the transaction at hand, with a copy of it before.

    ``copied``: it is a copy itself. Raises StoreError where it is newer than this program, or no
    copy can be made.
    """
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    _check_letters(connection)
    # no file of configuration: a store must open wherever the program is installed
    config = Config(attributes={"connection": connection})
    config.set_main_option(
        "script_location", str(Path(__file__).parent / "migrations").replace("%", "%%")
    )
    config.set_main_option("path_separator", "os")
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    # asked again, now that it is our turn: somebody else may have migrated meanwhile
    version = revision_of(connection)
    if (version is not None and version not in known) or (to != "head" and to not in known):
        raise StoreError(
            "The store was written by a newer version of Counterpoise."
            " Update this one, then open it."
        )
    # asked for again by whoever waited for somebody else's upgrade: then there is nothing to keep
    if version is not None and version != HEAD and not copied:
        keep_copy(connection, version)
    command.upgrade(config, to)
