"""The workshop's settings in the store: only what differs from the defaults is a row.

What holds for one family is a row under ``FAMILY.NAME``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress

from sqlalchemy import Connection, delete, insert, select

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.settings import Settings, split_key
from counterpoise.workshop.jobs.settings_checks import changed, to_json
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import SettingRow


class StoredSettings:
    """The settings of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get(self) -> Settings:
        """Return the defaults with what was changed."""
        with self._database.reading() as connection:
            return _read(connection)

    def change(self, changes: Mapping[str, object]) -> Settings:
        """Change some settings and return all of them.

        Raises InputError naming the key; then nothing is changed.
        """
        # read under the write lock, so that of two who change at once neither undoes the other
        with self._database.writing() as connection:
            after = changed(_read(connection), changes)
            _write(connection, after, list(changes), self._database.clock())
        return after


def _read(connection: Connection) -> Settings:
    # read through the checks: an older version may have stored what is refused today; then the
    # default stands, for a workshop that cannot be opened could not be put right either
    settings = Settings()
    for row in connection.execute(select(SettingRow.key, SettingRow.value)):
        with suppress(InputError):
            settings = changed(settings, {row.key: row.value})
    return settings


def _write(connection: Connection, settings: Settings, keys: Sequence[str], now: str) -> None:
    for key in keys:
        # delete and insert is what both databases understand alike
        connection.execute(delete(SettingRow).where(SettingRow.key == key))
        family, name = split_key(key)
        value = settings.set_for(family, name) if family else getattr(settings, key)
        # taken back: the family's own figure holds again
        if family and value is None:
            continue
        row = {"key": key, "value": to_json(value), "changed_at": now}
        connection.execute(insert(SettingRow).values(row))
