"""Photos and recordings in the store, each kept once under the digest of its bytes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, insert, select, update

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.jobs.entry_json import read_text
from counterpoise.workshop.jobs.job_file import (
    MOST_RECORDING_BYTES,
    NO_METADATA,
    JobFile,
    RecordingMetadata,
    digest,
)
from counterpoise.workshop.jobs.photos import clean_photo
from counterpoise.workshop.store.database import Database
from counterpoise.workshop.store.tables import PhotoRow, RecordingRow

# the column takes no more
_LONGEST_FILE_NAME = 200
_Columns = Mapping[str, str | bytes]


class Photos:
    """The photos of a store, all of them JPEG without metadata."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, data: bytes) -> str:
        """Keep a photo without its metadata and return its id.

        Raises InputError where it is no usable photo.
        """
        # cleaned outside the transaction: shrinking a photo takes a while, the lock is everybody's
        cleaned = clean_photo(data)
        with self._database.writing() as connection:
            _insert(
                connection, PhotoRow, {digest(cleaned): {"data": cleaned}}, self._database.clock()
            )
        return digest(cleaned)

    def get(self, photo_id: str) -> bytes:
        """Return a photo as JPEG bytes. Raises NotFoundError."""
        with self._database.reading() as connection:
            return read_photo(connection, photo_id)


class Recordings:
    """The recordings of a store, byte for byte as they came, and what is known of each."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str, data: bytes, metadata: RecordingMetadata = NO_METADATA) -> str:
        """Keep the recording of a spin as it is and return its id.

        ``name`` is the name of its file. Raises InputError where it is empty or too large.
        """
        if not data:
            raise InputError(
                "The recording is empty", field="recording", remedy="Send the file again"
            )
        # a recording is kept byte for byte, so it cannot be made smaller here
        if len(data) > MOST_RECORDING_BYTES:
            size = (
                f"{len(data) / 1e6:.0f} MB, at most {MOST_RECORDING_BYTES / 1e6:.0f} MB are taken"
            )
            raise InputError(
                f"The recording has {size}",
                field="recording",
                remedy="Cut it to the spin, or pack it (gz)",
            )
        named: _Columns = {"name": read_text(name, "name")[:_LONGEST_FILE_NAME], "data": data}
        with self._database.writing() as connection:
            _insert(connection, RecordingRow, {digest(data): named}, self._database.clock())
            _write_metadata(connection, digest(data), metadata)
        return digest(data)

    def get(self, recording_id: str) -> tuple[str, bytes]:
        """Return a recording as (name, bytes). Raises NotFoundError."""
        with self._database.reading() as connection:
            return read_recording(connection, recording_id)

    def metadata(self, recording_id: str) -> RecordingMetadata:
        """Return what is known of a recording; nothing of one that is not there."""
        with self._database.reading() as connection:
            return read_metadata(connection, recording_id)


def check_files(connection: Connection, photos: Iterable[str], recordings: Iterable[str]) -> None:
    """Raise InputError where photos or recordings with these ids are not kept."""
    for name, table, ids in (
        # a foreign key cannot reach into JSON, so it is checked here
        ("photos", PhotoRow, photos),
        ("recording", RecordingRow, recordings),
    ):
        for key in ids:
            if connection.execute(select(table.id).where(table.id == key)).first() is None:
                raise InputError(
                    f"{name}: {key!r} is not in the store", field=name, remedy="Send the file first"
                )


def insert_all(connection: Connection, job_file: JobFile, now: str) -> None:
    """Add the photos and recordings of a job that are not kept yet, and what is known of them."""
    _insert(connection, PhotoRow, {key: {"data": d} for key, d in job_file.photos.items()}, now)
    spins: dict[str, _Columns] = {
        key: {"name": name, "data": data} for key, (name, data) in job_file.recordings.items()
    }
    _insert(connection, RecordingRow, spins, now)
    for key, metadata in job_file.metadata.items():
        _write_metadata(connection, key, metadata)


def read_photo(connection: Connection, key: str) -> bytes:
    """Return a photo as JPEG bytes. Raises NotFoundError."""
    row = connection.execute(select(PhotoRow.data).where(PhotoRow.id == key)).first()
    if row is None:
        raise NotFoundError(f"There is no photo {key}", remedy="Send the photo again.")
    return row[0]


def read_recording(connection: Connection, key: str) -> tuple[str, bytes]:
    """Return a recording as (name, bytes). Raises NotFoundError."""
    row = connection.execute(
        select(RecordingRow.name, RecordingRow.data).where(RecordingRow.id == key)
    ).first()
    if row is None:
        raise NotFoundError(f"There is no recording {key}", remedy="Send its file again.")
    return row[0], row[1]


def read_metadata(connection: Connection, key: str) -> RecordingMetadata:
    """Return what is known of a recording; nothing of one that is not there."""
    # the bytes stay where they are: they are megabytes
    asked = select(RecordingRow.top_rpm, RecordingRow.sound, RecordingRow.sound_start_s).where(
        RecordingRow.id == key
    )
    row = connection.execute(asked).first()
    return NO_METADATA if row is None else RecordingMetadata(row[0], row[1] or "", row[2])


def _insert(
    connection: Connection,
    table: type[PhotoRow | RecordingRow],
    files: Mapping[str, _Columns],
    now: str,
) -> None:
    """Add those files that are not kept yet; the same bytes under another name stay as they are."""
    for key, values in files.items():
        if connection.execute(select(table.id).where(table.id == key)).first() is None:
            connection.execute(insert(table).values(id=key, added_at=now, **values))


def _write_metadata(connection: Connection, key: str, metadata: RecordingMetadata) -> None:
    """Write what is known of a recording; what is not given leaves what was known before."""
    # an update of nothing is a mistake to SQL
    if metadata.to_json():
        connection.execute(
            update(RecordingRow).where(RecordingRow.id == key).values(**metadata.to_json())
        )
