"""Whether a database is a store, one to be filled, or another program's."""

from __future__ import annotations

from sqlalchemy import Connection, inspect

from counterpoise.errors import StoreError
from counterpoise.workshop.store.opening.files import MARK

# there from the first version of a store on
_OURS = {"jobs", "entries"}
_REMEDY = "Nothing was changed in it. Name the right one with --store, or another for a new store"


def check_ours(connection: Connection, named: str) -> None:
    """Raise StoreError where a database is another program's.

    One without any table is ours to fill on a server; in a file where this program has begun it.
    """
    tables = set(inspect(connection).get_table_names())
    if tables:
        if not tables >= _OURS:
            raise StoreError(
                f"The database at {named} is another program's: it holds {_listed(tables)}",
                remedy=_REMEDY,
            )
        return
    if connection.dialect.name == "sqlite":
        mark = connection.exec_driver_sql("PRAGMA application_id").scalar()
        if mark != MARK:
            raise StoreError(
                f"The database at {named} is empty and was not begun by this program",
                remedy=_REMEDY,
            )


def _listed(tables: set[str]) -> str:
    names = sorted(tables)
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more tables" if names[3:] else "")
