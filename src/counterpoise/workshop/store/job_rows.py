"""Jobs and files to and from rows, on an open connection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, delete, func, insert, select, update

from counterpoise.errors import InputError, NotFoundError, StoreError
from counterpoise.workshop.jobs.entries import Body, Entry, Job
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json, kind_of
from counterpoise.workshop.jobs.job_file import Facts, photo_ids, recording_ids
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.settings_checks import changed, plain
from counterpoise.workshop.store.tables import (
    Base,
    EntryRow,
    JobRow,
    PhotoRow,
    RecordingRow,
    SettingRow,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_LARGEST = 2**31 - 1


def last_number(connection: Connection, job: int) -> int:
    """Return the number of the job's last entry, keeping others from adding one until the transaction ends."""
    found = (
        0 < job <= _LARGEST
        and connection.execute(
            select(JobRow.number)
            .where(JobRow.number == job)
            .with_for_update()  # SQLite holds the lock already
        ).first()
    )
    if not found:
        raise NotFoundError(f"There is no job {job}")
    return connection.execute(
        select(func.max(EntryRow.number)).where(EntryRow.job == job)
    ).scalar_one()


def job_exists(connection: Connection, number: int) -> bool:
    """Whether there is such a job."""
    known = select(JobRow.number).where(JobRow.number == number)
    return 0 < number <= _LARGEST and connection.execute(known).first() is not None


def new_job(connection: Connection, opened_at: str) -> int:
    """Add a job and return its number."""
    return new_key(connection, JobRow, {"opened_at": opened_at})


def new_key(connection: Connection, table: type[Base], values: Mapping[str, Any]) -> int:
    """Add a row that the database numbers, and return its number."""
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    if key is None:
        raise StoreError("The database gave no number")
    return int(key[0])


def insert_entries(connection: Connection, job: int, entries: Sequence[Entry]) -> None:
    """Add entries to a job."""
    rows = [
        {
            "job": job,
            "number": e.number,
            "at": e.at,
            "by": e.by,
            "kind": kind_of(e.body),
            "body": body_to_json(e.body),
        }
        for e in entries
    ]
    connection.execute(insert(EntryRow), rows)


def read_job(connection: Connection, number: int) -> Job:
    """Return a job with all its entries. Raises NotFoundError."""
    if not 0 < number <= _LARGEST:
        raise NotFoundError(f"There is no job {number}")
    rows = connection.execute(
        select(EntryRow).where(EntryRow.job == number).order_by(EntryRow.number)
    )
    entries = tuple(read_entry(row) for row in rows)
    if not entries:
        raise NotFoundError(f"There is no job {number}")
    return Job(number, entries)


def read_entry(row: Any) -> Entry:
    """Return the entry of a row of ``entries``."""
    try:
        return Entry(row.number, row.at, row.by, body_from_json(row.body))
    except InputError as error:
        raise StoreError(f"Entry {row.number} of job {row.job} cannot be read: {error}") from error


def check_files(connection: Connection, body: Body) -> None:
    """Refuse a body that refers to photos or recordings that are not kept."""
    for name, table, ids in (
        ("photos", PhotoRow, photo_ids(body)),
        ("recording", RecordingRow, recording_ids(body)),
    ):
        for key in ids:
            if connection.execute(select(table.id).where(table.id == key)).first() is None:
                raise InputError(
                    f"{name}: {key!r} is not in the store", field=name, remedy="Send the file first"
                )


def insert_files(
    connection: Connection,
    table: type[PhotoRow | RecordingRow],
    files: Mapping[str, Mapping[str, Any]],
    now: str,
) -> None:
    """Add those files that are not kept yet."""
    for key, values in files.items():
        if connection.execute(select(table.id).where(table.id == key)).first() is None:
            connection.execute(insert(table).values(id=key, added_at=now, **values))


def read_photo(connection: Connection, key: str) -> bytes:
    """Return a photo. Raises NotFoundError."""
    row = connection.execute(select(PhotoRow.data).where(PhotoRow.id == key)).first()
    if row is None:
        raise NotFoundError(f"There is no photo {key}")
    return row[0]


def read_recording(connection: Connection, key: str) -> tuple[str, bytes]:
    """Return a recording as (name, bytes). Raises NotFoundError."""
    row = connection.execute(
        select(RecordingRow.name, RecordingRow.data).where(RecordingRow.id == key)
    ).first()
    if row is None:
        raise NotFoundError(f"There is no recording {key}")
    return row[0], row[1]


def read_facts(connection: Connection, key: str) -> Facts:
    """Return what was told of a recording; nothing of one that is not there."""
    asked = select(RecordingRow.top_rpm, RecordingRow.sound, RecordingRow.sound_start_s).where(
        RecordingRow.id == key
    )
    row = connection.execute(asked).first()
    return Facts() if row is None else Facts(row[0], row[1] or "", row[2])


def write_facts(connection: Connection, key: str, facts: Facts) -> None:
    """Put down what was told of a recording; what was not told leaves what was told before."""
    if facts.to_json():
        connection.execute(
            update(RecordingRow).where(RecordingRow.id == key).values(**facts.to_json())
        )


def read_settings(connection: Connection) -> Settings:
    """Return the defaults with what was changed."""
    stored = {
        row.key: row.value for row in connection.execute(select(SettingRow.key, SettingRow.value))
    }
    return changed(Settings(), stored)


def write_settings(
    connection: Connection, settings: Settings, keys: Sequence[str], now: str
) -> None:
    """Store the named settings."""
    for key in keys:
        connection.execute(delete(SettingRow).where(SettingRow.key == key))
        value = plain(getattr(settings, key))
        connection.execute(insert(SettingRow).values(key=key, value=value, changed_at=now))
