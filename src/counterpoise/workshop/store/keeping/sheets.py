"""The rows of a store for spreadsheets, and the names of files beside them."""

from __future__ import annotations

import csv
import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing
from pathlib import Path

from sqlalchemy import Connection, Table

from counterpoise.workshop.parts.csv_cells import safe_cell
from counterpoise.workshop.store.keeping.rows import Row, is_file, key_of, read

# an id as the program makes them; anything else is no name for a file
_PLAIN = re.compile(r"[A-Za-z0-9_-]{1,80}")
_ENDING = re.compile(r"(?:\.[A-Za-z0-9]{1,5}){1,2}$")


def file_name(table: Table, row: Row) -> str:
    """The name under which the bytes of a row lie in a backup."""
    key = "-".join(str(value) for value in key_of(table, row))
    if not _PLAIN.fullmatch(key):
        key = hashlib.sha256(key.encode()).hexdigest()
    # a recording keeps the ending it came with, so that other programs know it
    named = _ENDING.search(str(row.get("name", "")))
    ending = ".jpg" if table.name == "photos" else named.group() if named else ".bin"
    return f"{table.name}/{key}{ending}"


def sheets(connection: Connection, table: Table, folder: Path) -> Iterator[tuple[str, Path]]:
    """Write the rows of a table as CSV into a folder; gives each sheet by its name.

    The entries of jobs come by kind, with a column for each field.
    """
    heads: dict[str, dict[str, None]] = {}
    # fields came and went over the years: a sheet has all that any row has
    for name, cells in _cells(connection, table):
        heads.setdefault(name, {}).update(dict.fromkeys(cells))
    paths = {name: folder / f"{name}.csv" for name in heads}
    with ExitStack() as opened:
        writers = {}
        for name, head in heads.items():
            stream = opened.enter_context(paths[name].open("w", encoding="utf-8", newline=""))
            writers[name] = csv.DictWriter(stream, list(head), restval="")
            writers[name].writeheader()
        for name, cells in _cells(connection, table):
            writers[name].writerow(cells)
    for name, path in paths.items():
        yield name, path
        path.unlink()


def _cells(connection: Connection, table: Table) -> Iterator[tuple[str, Mapping[str, object]]]:
    # the bytes of files stay where they are: they are named, and lie beside
    with closing(read(connection, table, files=False)) as rows:
        for row in rows:
            if table.name == "entries":
                yield _of_entry(row)
                continue
            cells = {name: _cell(value) for name, value in row.items()}
            for column in filter(is_file, table.columns):
                cells[column.name] = file_name(table, row)
            yield table.name, cells


def _of_entry(row: Row) -> tuple[str, Mapping[str, object]]:
    kind, body = str(row["kind"]), json.loads(str(row["body"]))
    cells = {name: _cell(row[name]) for name in ("job", "number", "at", "by")}
    cells |= {name: _cell(value) for name, value in body.items() if name != "kind"}
    return f"entries-{kind}" if _PLAIN.fullmatch(kind) else "entries-other", cells


def _cell(value: object) -> object:
    if isinstance(value, list | dict):
        value = json.dumps(value, ensure_ascii=False)
    # a spreadsheet must not take what somebody typed for a formula
    return safe_cell(value) if isinstance(value, str) else value
