"""The file of a store: begun whole, looked at before it is filled, readable by its owner alone."""

from __future__ import annotations

import os
import sqlite3
import stat
import tempfile
from contextlib import closing, suppress
from pathlib import Path

from counterpoise.errors import StoreError

# Names, addresses and pictures of customers' kitchens stand in it.
FILE_MODE = 0o600
FOLDER_MODE = 0o700
# "CPoi": by it a store that was begun and not filled yet is told from a stranger's empty database
MARK = 0x43506F69
_HEAD = b"SQLite format 3\0"
# what SQLite lays beside a file in write-ahead mode
_BESIDE = ("", "-wal", "-shm", "-journal")
_ANOTHER = "Name the right file with --store, or another name for a new store"


def make_folder(folder: Path) -> None:
    """Make a folder with those above it, each for its owner alone. Raises OSError."""
    # mkdir's own ``parents`` would make those above readable by everybody
    for missing in reversed([each for each in (folder, *folder.parents) if not each.exists()]):
        missing.mkdir(mode=FOLDER_MODE, exist_ok=True)
    # for its error where a file is in the way
    folder.mkdir(exist_ok=True)


def claim(path: Path) -> None:
    """Begin the file of a new store, or make sure that the one there could be a store.

    Raises StoreError for an empty file, a folder, and a file that is no database.
    """
    try:
        if path.exists():
            _look_at(path)
        else:
            _begin(path)
    except OSError as error:
        raise StoreError(
            f"The store at {path} cannot be opened: {error.strerror}",
            remedy="Look whether this user may write the file and its folder, and whether there"
            " is room",
        ) from error
    keep_private(path)


def keep_private(path: Path) -> None:
    """Take from others what they may do with a store and the files beside it.

    A group that may write it was given that on purpose, and keeps it.
    """
    for end in _BESIDE:
        beside = path.with_name(path.name + end)
        # another user's file, or a disk that knows no rights, stays as it is
        with suppress(OSError):
            mode = stat.S_IMODE(beside.stat().st_mode)
            kept = FILE_MODE | (mode & 0o060 if mode & stat.S_IWGRP else 0)
            if mode & ~kept:
                beside.chmod(mode & kept)


def _look_at(path: Path) -> None:
    if path.is_dir():
        raise StoreError(f"The store at {path} cannot be opened: it is a folder", remedy=_ANOTHER)
    with path.open("rb") as file:
        head = file.read(len(_HEAD))
    if not head:
        # filled in silence, a slip in the name would look like a workshop that lost everything
        raise StoreError(
            f"The store at {path} cannot be opened: it is an empty file",
            remedy=f"{_ANOTHER}; take the empty one away if a new store is wanted right there",
        )
    if head != _HEAD:
        raise StoreError(
            f"The store at {path} cannot be opened: it is another kind of file", remedy=_ANOTHER
        )


def _begin(path: Path) -> None:
    """Lay down an empty database that is ours to fill, under its name all at once."""
    # Made beside and then named: nobody, and no program killed in between, sees an empty file.
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    os.close(handle)
    try:
        with closing(sqlite3.connect(name)) as raw:
            raw.execute(f"PRAGMA application_id = {MARK}")
        _name(Path(name), path)
    except sqlite3.Error as error:
        raise StoreError(
            f"The store at {path} cannot be made: {error}",
            remedy="Look whether there is room on the disk",
        ) from error
    finally:
        Path(name).unlink(missing_ok=True)


def _name(made: Path, path: Path) -> None:
    try:
        # a link never takes the place of a file: of two that begin at once both use the first
        path.hardlink_to(made)
    except FileExistsError:
        return
    except OSError:
        # a disk that knows no links
        if not path.exists():
            made.replace(path)
