"""A backup: everything a workshop keeps, in one ZIP file of open formats, checked by a restore.

``tables/NAME.jsonl`` has a row a line, from which a store is made again; photos and recordings lie
beside it as files, the workshop's own families too. ``csv/`` holds the same for spreadsheets and is
not read back. ``manifest.json`` says what must be there: rows and digest of each table.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import shutil
import tempfile
import time
import zipfile
from collections.abc import Mapping
from contextlib import closing, suppress
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path

from sqlalchemy import Connection, Table

from counterpoise.errors import InputError
from counterpoise.workshop.store.engine import revision_of
from counterpoise.workshop.store.keeping.moving import new_store, reading_store
from counterpoise.workshop.store.keeping.restoring import FORMAT, VERSION, fill
from counterpoise.workshop.store.keeping.rows import (
    Row,
    Sum,
    canonical,
    compare,
    is_file,
    is_json,
    read,
    tables,
)
from counterpoise.workshop.store.keeping.sheets import file_name, sheets

_NAME = "counterpoise-{}.zip"
_OURS = re.compile(r"counterpoise-\d{8}T\d{6}Z\.zip")
_STALE_S = 24 * 3600.0  # no backup takes a day
_ABOUT = """A backup of Counterpoise. `counterpoise store restore FILE` makes a store of it.
tables/  a line of JSON for each row; photos, recordings and own families lie beside as files
csv/     the same for spreadsheets, the entries of jobs by kind; not read back
It holds names, telephone numbers and photos of customers: keep it where nobody else reads it.
"""


@dataclass(frozen=True, slots=True)
class BackUp:
    """A backup that was checked: its file, its size in bytes, what each table holds.

    ``files`` counts photos, recordings and pieces of them, ``families`` the workshop's own files;
    ``removed`` are older backups that made room.
    """

    file: str
    size: int
    revision: str
    tables: Mapping[str, Sum]
    files: int
    families: int
    removed: tuple[str, ...] = ()


def back_up(where: str | Path, folder: Path, families: Path, now: str) -> BackUp:
    """Write a backup of a store into a folder, restore it beside, compare, and only then name it.

    ``families``: the folder of the workshop's own; ``now`` is UTC, ISO 8601. Raises StoreError,
    and InputError where the folder cannot be written; then no backup is left there.
    """
    # a time in the name: sorted by name they are sorted by age
    final = folder / _NAME.format(re.sub(r"[-:]", "", now))
    new = not folder.exists()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if final.exists():
            raise InputError(f"{final} exists already", field="folder", remedy="Try in a second")
        _clear(folder)
        # not readable by anybody else, and gone whatever happens
        work = Path(tempfile.mkdtemp(prefix=".backup-", dir=folder))
    except OSError as error:
        raise _unwritable(folder, error) from error
    try:
        part = work / "backup.zip"
        os.close(os.open(part, os.O_CREAT | os.O_WRONLY, 0o600))
        with reading_store(where) as here:
            # the comparison reads the state that was written, whatever was added meanwhile
            revision, files, own = _write(here, part, families, now)
            with new_store(work / "checked.db") as there:
                fill(there, part)
                sums = compare(here, there)
        _settle(part, final)
    except OSError as error:
        raise _unwritable(folder, error) from error
    finally:
        shutil.rmtree(work, ignore_errors=True)
        # a folder made for a backup that came to nothing goes with it
        with suppress(OSError):
            if new and not final.exists():
                folder.rmdir()
    return BackUp(str(final), final.stat().st_size, revision, sums, files, own)


def _clear(folder: Path) -> None:
    """Remove what a backup left that was killed; names of customers are in it."""
    for work in folder.glob(".backup-*"):
        # one that is being made now is younger
        if time.time() - work.stat().st_mtime > _STALE_S:
            shutil.rmtree(work, ignore_errors=True)


def backups_in(folder: Path) -> list[Path]:
    """The backups in a folder, the oldest first; empty where there is none."""
    return sorted(path for path in folder.glob("*.zip") if _OURS.fullmatch(path.name))


def prune(folder: Path, keep: int) -> tuple[str, ...]:
    """Remove the oldest backups of a folder but ``keep``, and return their files."""
    # files of other names in the folder are not ours to remove
    old = backups_in(folder)[:-keep] if keep else []
    for path in old:
        path.unlink(missing_ok=True)
    return tuple(str(path) for path in old)


def _unwritable(folder: Path, error: OSError) -> InputError:
    return InputError(
        f"{folder} cannot hold a backup: {error.strerror}; none was made",
        field="folder",
        remedy="Make room, or give another folder",
    )


def _settle(part: Path, final: Path) -> None:
    """Have the bytes on disk before the name says that they are a backup."""
    # a name that survives a lost mains supply must not name half a file
    with part.open("rb") as stream:
        os.fsync(stream.fileno())
    part.replace(final)
    # the name itself is an entry of the folder
    folder = os.open(final.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _write(connection: Connection, part: Path, families: Path, now: str) -> tuple[str, int, int]:
    revision, sums, files = str(revision_of(connection)), {}, 0
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", _ABOUT)
        for table in tables(connection):
            sums[table.name], count = _write_table(archive, connection, table)
            files += count
            for name, sheet in sheets(connection, table, part.parent):
                archive.write(sheet, f"csv/{name}.csv")
        # jobs point at the families by their ids; without them they could not be read
        own = sorted(families.glob("*.yaml")) if families.is_dir() else []
        for path in own:
            archive.write(path, f"families/{path.name}")
        manifest = {
            "format": FORMAT,
            "version": VERSION,
            "program": version("counterpoise"),
            "revision": revision,
            "made_at": now,
            "tables": {name: asdict(each) for name, each in sums.items()},
            "families": [path.name for path in own],
        }
        # last, so that a file cut short has none
        archive.writestr("manifest.json", json.dumps(manifest, indent=1))
    return revision, files, len(own)


def _write_table(archive: zipfile.ZipFile, connection: Connection, table: Table) -> tuple[Sum, int]:
    """Write the rows of a table; returns their sum and how many files lie beside them."""
    count, files, digest = 0, 0, hashlib.sha256()
    has_files = any(map(is_file, table.columns))
    place = f"tables/{table.name}.jsonl"
    # files of an archive are written one after another: lines that name files wait for them
    stream = io.BytesIO() if has_files else archive.open(place, "w")
    with stream, closing(read(connection, table)) as rows:
        for row in rows:
            line = _line(table, row)
            for name, data in _files(table, row).items():
                archive.writestr(name, data)
                files += 1
            stream.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
            digest.update(canonical(table, row) + b"\n")
            count += 1
        if isinstance(stream, io.BytesIO):
            archive.writestr(place, stream.getvalue())
    return Sum(count, digest.hexdigest()), files


def _line(table: Table, row: Row) -> dict[str, object]:
    """A row as JSON values; what has no value is left out, for a written null is another thing."""
    line: dict[str, object] = {}
    for column in table.columns:
        value = row[column.name]
        if value is None:
            continue
        if is_file(column):
            line[column.name] = {"file": file_name(table, row)}
        else:
            line[column.name] = json.loads(str(value)) if is_json(column) else value
    return line


def _files(table: Table, row: Row) -> dict[str, bytes]:
    # a table has at most one such column, so the name by the row's key is enough
    kept = [row[column.name] for column in table.columns if is_file(column)]
    return {file_name(table, row): data for data in kept if isinstance(data, bytes)}
