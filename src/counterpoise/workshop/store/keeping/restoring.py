"""A store made again from a backup: in one transaction, each table checked by its digest."""

from __future__ import annotations

import json
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table

from counterpoise.errors import InputError, StoreError
from counterpoise.workshop.store.engine import migrate
from counterpoise.workshop.store.keeping.moving import lay_down, new_store
from counterpoise.workshop.store.keeping.rows import (
    Row,
    Sum,
    Value,
    is_file,
    is_json,
    read,
    summed,
    tables,
    write,
)

FORMAT, VERSION = "counterpoise-backup", 1
# a name in a backup is a name in a folder, never a way out of it
_FAMILY = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*\.yaml")


def restore(file: Path, target: str | Path, families: Path) -> dict[str, Sum]:
    """Make a store of a backup, with the workshop's own families; returns what each table holds.

    ``target`` is a file or URL where nothing is yet, ``families`` the folder for its families.
    Raises InputError where the backup is damaged or something is there already, StoreError; then
    nothing is left there.
    """
    with _opened(file) as archive:
        own = _families(archive, _manifest(archive))
    # asked before anything is written, so that a refusal has nothing to undo
    differing = [name for name, data in own.items() if _differs(families / name, data)]
    if differing:
        raise InputError(
            f"{families} holds other files of these names: {', '.join(sorted(differing))}",
            field="families",
            remedy="Give another folder with --families",
        )
    with new_store(target) as there:
        sums = fill(there, file)
        # what was checked is of the backup's revision; from here on it is a store like any other
        migrate(there, copied=True)
        # within the transaction: a family that cannot be written leaves no store without it
        _put_families(families, own)
    return sums


def fill(there: Connection, file: Path) -> dict[str, Sum]:
    """Put the rows of a backup down in a database with nothing in it, at the backup's revision.

    Raises InputError where a table is not what it was when the backup was made.
    """
    with _opened(file) as archive:
        manifest = _manifest(archive)
        lay_down(there, str(manifest["revision"]))
        sums = {}
        for table in tables(there):
            write(there, table, _rows(archive, table))
            with closing(read(there, table)) as rows:
                sums[table.name] = summed(table, rows)
        promised = {name: Sum(**each) for name, each in manifest["tables"].items()}
        # a table too few is a loss, a table too many is not this backup's
        for name in promised.keys() | sums.keys():
            if sums.get(name) != promised.get(name):
                raise InputError(
                    f"{file}: the table {name} is not what it was when the backup was made",
                    field="file",
                    remedy="Take another backup; this one is damaged",
                )
    return sums


@contextmanager
def _opened(file: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(file) as archive:
            yield archive
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror}", field="file") from error
    # whatever is missing, cut short or no JSON: the file is not what was written
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"{file} is no backup, or it is damaged ({error})",
            field="file",
            remedy="Give a file that counterpoise store backup made",
        ) from error


def _manifest(archive: zipfile.ZipFile) -> Mapping[str, Any]:
    manifest: Mapping[str, Any] = json.loads(archive.read("manifest.json"))
    if manifest["format"] != FORMAT:
        raise ValueError("another format")
    # a newer one may say what this program would leave out without a word
    if manifest["version"] > VERSION:
        raise StoreError("The backup was made by a newer version of Counterpoise. Update this one.")
    return manifest


def _rows(archive: zipfile.ZipFile, table: Table) -> Iterator[Row]:
    with archive.open(f"tables/{table.name}.jsonl") as lines:
        # line by line: ten years of entries need not fit into memory
        for line in lines:
            given = json.loads(line)
            row: dict[str, Value] = {}
            for column in table.columns:
                # what is not there had no value; a written null is one
                value = given.get(column.name)
                if column.name not in given:
                    row[column.name] = None
                elif is_file(column):
                    row[column.name] = archive.read(value["file"])
                elif is_json(column):
                    row[column.name] = json.dumps(value, ensure_ascii=False, allow_nan=False)
                else:
                    row[column.name] = value
            yield row


def _families(archive: zipfile.ZipFile, manifest: Mapping[str, Any]) -> dict[str, bytes]:
    names = [str(name) for name in manifest["families"]]
    # a backup may have come from anywhere
    if not all(_FAMILY.fullmatch(name) for name in names):
        raise ValueError("a family with an impossible name")
    return {name: archive.read(f"families/{name}") for name in names}


def _differs(path: Path, data: bytes) -> bool:
    return path.exists() and path.read_bytes() != data


def _put_families(folder: Path, own: Mapping[str, bytes]) -> None:
    try:
        if own:
            folder.mkdir(parents=True, exist_ok=True)
        for name, data in own.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise InputError(
            f"{folder} cannot hold the families: {error.strerror}; nothing was restored",
            field="families",
            remedy="Give another folder with --families",
        ) from error
