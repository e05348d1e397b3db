"""What a database says when something fails, in words: what, and what to do about it."""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError

from counterpoise.errors import StoreError

_AGAIN = "Nothing was changed. "
_BUSY = (
    "somebody else is writing to it and was not done in time",
    _AGAIN + "Wait a moment, then try again; nothing is wrong with the disk",
)
_FULL = ("the disk is full", _AGAIN + "Make room on the disk of the store, then try again")
_READ_ONLY = (
    "it may only be read here",
    _AGAIN + "Give this user the right to write the store's file and its folder",
)
_DISK = (
    "the disk could not be read or written",
    _AGAIN + "Look whether the disk is full or failing, then try again",
)
_NOT_OPENED = (
    "its file cannot be opened",
    _AGAIN + "Look whether the file is there and this user may write it and its folder",
)
_DAMAGED = (
    "it is damaged",
    _AGAIN + "Stop the program, keep the damaged file, and put the newest copy in its place",
)
# it may have written before it fell silent, so this does not say that nothing was changed
_UNREACHABLE = (
    "its server does not answer, or lets nobody in under this name",
    "Look whether the server runs and the address is right, then send it again: none is kept twice",
)
# https://www.sqlite.org/rescode.html: the primary codes
_SQLITE = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_IOERR: _DISK,
    sqlite3.SQLITE_CANTOPEN: _NOT_OPENED,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
}
# PostgreSQL's manual, Appendix A: codes of errors
_SERVER = {
    # a lock that was not to be had in time, two that wait for each other, two that wrote at once
    "55P03": _BUSY,
    "40P01": _BUSY,
    "40001": _BUSY,
    "53100": _FULL,
    # a server in standby, and a user without the right
    "25006": _READ_ONLY,
    "42501": _READ_ONLY,
    # damage to a table, damage to an index
    "XX001": _DAMAGED,
    "XX002": _DAMAGED,
}


def in_words(what: str, error: DBAPIError | sqlite3.Error, otherwise: str = "") -> StoreError:
    """A driver's error as ours.

    ``what`` begins the sentence; ``otherwise`` is what to do where the error is none we know.
    """
    # the driver's own words, without the statement and its values
    said = getattr(error, "orig", None) or error
    # the extended codes carry the primary one in their lowest byte
    known = _SQLITE.get(getattr(said, "sqlite_errorcode", 0) & 0xFF)
    known = known or _SERVER.get(getattr(said, "sqlstate", None) or "") or _no_answer(said)
    # a server's driver says several lines; what is told is one
    words = " ".join(str(said).split())
    if known is None:
        return StoreError(f"{what}: {words}", remedy=otherwise)
    why, remedy = known
    return StoreError(f"{what}: {why} ({words})", remedy=remedy)


def _no_answer(said: object) -> tuple[str, str] | None:
    """What to say where a server said nothing: its answers have a code, its silence has none."""
    # by its names, for the driver is an extra that need not be installed
    kind = type(said)
    silent = kind.__module__.startswith("psycopg") and kind.__name__ == "OperationalError"
    return _UNREACHABLE if silent and getattr(said, "sqlstate", None) is None else None
