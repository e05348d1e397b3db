"""The rows of a store as they are, whatever its revision: read by key, put down, compared.

A value is an int, a float, a text, a truth, bytes or None; what the store keeps as JSON is its
text. The tables are asked of the database itself, so that a store of before can be read too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Generator, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from itertools import islice, zip_longest
from typing import Any

from sqlalchemy import (
    JSON,
    Column,
    Connection,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    bindparam,
    cast,
    func,
    insert,
    select,
)
from sqlalchemy.exc import DBAPIError

from counterpoise.errors import StoreError

Value = int | float | str | bool | bytes | None
Row = Mapping[str, Value]
_VERSION = "alembic_version"
# who is signed in now is of this store and this day: whoever uses a copy signs in there
_SESSIONS = "sessions"
# rows at once; those with photos or recordings are megabytes each
_MANY, _FEW = 500, 4
_GIVEN = "given_"


@dataclass(frozen=True, slots=True)
class Sum:
    """What a table holds: how many rows, and the digest (SHA-256) of all of them in order."""

    rows: int
    digest: str


def tables(connection: Connection) -> list[Table]:
    """The tables of a store, each after those that it points at."""
    metadata = MetaData()
    metadata.reflect(connection)
    # the mark of the migrations is no row of the workshop's: each store has its own
    own = {_VERSION, _SESSIONS}
    return [table for table in metadata.sorted_tables if table.name not in own]


def is_json(column: Column[Any]) -> bool:
    """Whether a column holds JSON; its value is then the text of it."""
    return isinstance(column.type, JSON)


def is_file(column: Column[Any]) -> bool:
    """Whether a column holds the bytes of a file."""
    return isinstance(column.type, LargeBinary)


def key_of(table: Table, row: Row) -> tuple[Value, ...]:
    """The values of a row's key."""
    return tuple(row[column.name] for column in table.primary_key)


def read(connection: Connection, table: Table, *, files: bool = True) -> Generator[Row]:
    """The rows of a table in the order of its key, the same order in every kind of store.

    Without ``files`` they come without the bytes of photos and recordings.
    """
    server = connection.dialect.name == "postgresql"
    # as text: what a driver makes of JSON would not tell no value from a written null
    columns = [
        cast(column, Text).label(column.name) if is_json(column) else column
        for column in table.columns
        if files or not is_file(column)
    ]
    # a server sorts letters by its language, a file by their bytes
    order = [
        column.collate("C") if server and isinstance(column.type, String) else column
        for column in table.primary_key
    ]
    many = _FEW if files and any(map(is_file, table.columns)) else _MANY
    # a part at a time: neither all photos nor ten years of entries need fit into memory
    rows = connection.execute(
        select(*columns).order_by(*order), execution_options={"yield_per": many}
    )
    with rows:
        for row in rows.mappings():
            yield {str(name): value for name, value in row.items()}


def write(connection: Connection, table: Table, rows: Iterable[Row]) -> None:
    """Put rows down in a table that has none. Raises StoreError naming the table."""
    # a server takes a text as JSON only when it is told to
    values = {
        column.name: cast(bindparam(_GIVEN + column.name, type_=Text), JSON)
        if is_json(column) and connection.dialect.name == "postgresql"
        else bindparam(_GIVEN + column.name, type_=Text if is_json(column) else column.type)
        for column in table.columns
    }
    statement = insert(table).values(values)
    many = _FEW if any(map(is_file, table.columns)) else _MANY
    remaining = iter(rows)
    try:
        while some := [_given(row) for row in islice(remaining, many)]:
            connection.execute(statement, some)
        _count_on(connection, table)
    except DBAPIError as error:
        raise StoreError(
            f"A row of {table.name} does not fit: {str(error.orig).strip()}. Nothing was stored."
        ) from error


def _given(row: Row) -> dict[str, Value]:
    # the plain names of columns are taken by the statement itself
    return {_GIVEN + name: value for name, value in row.items()}


def _count_on(connection: Connection, table: Table) -> None:
    """Have a server number on after the rows that came with their numbers."""
    (key, *others) = table.primary_key
    # a file counts by itself; a key that is given, or no number, is not counted
    if connection.dialect.name != "postgresql" or others or not isinstance(key.type, Integer):
        return
    counter = connection.execute(
        select(func.pg_get_serial_sequence(table.fullname, key.name))
    ).scalar()
    last = connection.execute(select(func.max(key))).scalar()
    # an empty table counts from 1 by itself
    if counter is not None and last is not None:
        connection.execute(select(func.setval(counter, last)))


def canonical(table: Table, row: Row) -> bytes:
    """A row as bytes that are the same wherever it lies and however its JSON was written."""
    parts: list[object] = []
    for column in table.columns:
        value = row[column.name]
        # the digest of a file tells as much as the file
        if isinstance(value, bytes):
            parts.append({"sha256": hashlib.sha256(value).hexdigest()})
        elif value is not None and is_json(column):
            # in the order it was written in: order is shown
            parts.append({"json": json.loads(str(value))})
        else:
            parts.append(value)
    return json.dumps(parts).encode()


def summed(table: Table, rows: Iterable[Row]) -> Sum:
    """The sum of rows in the order of their key."""
    count, digest = 0, hashlib.sha256()
    for row in rows:
        count += 1
        digest.update(canonical(table, row) + b"\n")
    return Sum(count, digest.hexdigest())


def compare(source: Connection, target: Connection) -> dict[str, Sum]:
    """Compare two stores of one revision row by row, and return what each table holds.

    Raises StoreError that names the first row that differs.
    """
    there = {table.name: table for table in tables(target)}
    sums = {}
    for table in tables(source):
        if table.name not in there:
            raise StoreError(f"The copy has no table {table.name}.")
        count, digest = 0, hashlib.sha256()
        with (
            closing(read(source, table)) as here,
            closing(read(target, there[table.name])) as arrived,
        ):
            # both sides in the same order, so that a row too many or too few shows at once
            for ours, theirs in zip_longest(here, arrived):
                written = canonical(table, ours) if ours else b""
                if not ours or not theirs or written != canonical(table, theirs):
                    key = key_of(table, ours or theirs or {})
                    raise StoreError(f"The copy differs at {table.name} {key}.")
                count += 1
                digest.update(written + b"\n")
        sums[table.name] = Sum(count, digest.hexdigest())
    return sums


def count_all(connection: Connection) -> int:
    """How many rows a store holds, in all its tables."""
    # an empty store has tables, so they are counted through
    counts = (select(func.count()).select_from(table) for table in tables(connection))
    return sum(connection.execute(count).scalar_one() for count in counts)
