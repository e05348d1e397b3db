"""What a customer said and showed is taken away from a job on request; the job itself is kept.

Free texts, photos and sounds go; what was found, done, agreed and earned stays, so that books and
learning stay what they were. The entries are written over in their place, for an entry that points
at what is gone would be no more honest, and a further entry says what was taken away.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import Connection, cast, delete, insert, select, text, update
from sqlalchemy import Text as LongText

from counterpoise.workshop.jobs.entries import Body, Entry, Intake, Job, Note
from counterpoise.workshop.jobs.entry_json import body_to_json, kind_of, photo_ids, recording_ids
from counterpoise.workshop.jobs.fields import PLAIN_LETTERS, EntryField, Text, fields_of, mark_of
from counterpoise.workshop.store import job_lines, job_rows
from counterpoise.workshop.store.jobs import read_entry
from counterpoise.workshop.store.tables import (
    CapturePartRow,
    CaptureRow,
    EntryRow,
    KeptRow,
    MovementRow,
    PhotoRow,
    RecordingRow,
    WriteRow,
)

if TYPE_CHECKING:
    from counterpoise.workshop.store.database import Database

GONE = "(taken away)"
# texts that are of the machine or the calendar, not of anybody
_STAYING = frozenset({"maker", "model", "promised", "parts_due", "language"})


@dataclass(frozen=True, slots=True)
class TakenAway:
    """What went, or would go: ``fields`` by name, from how many entries, photos and sounds."""

    job: int
    fields: tuple[str, ...]
    entries: int
    photos: int
    sounds: int

    @property
    def sentence(self) -> str:
        """What went, as the job's own entry says it."""
        what = ", ".join(self.fields).replace("_", " ") or "no text"
        return (
            f"On request taken away: {what} of {self.entries} entries, {self.photos} photos,"
            f" {self.sounds} sounds."
        )


class Personal:
    """What of a store's jobs is their customers' own."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of(self, number: int) -> TakenAway:
        """What would be taken away of a job. Raises NotFoundError."""
        # the same counting as when it goes: what is said before is what is said after
        with self._database.reading() as connection:
            return _counted(connection, _read(connection, number))

    def take_away(self, number: int, by: str) -> TakenAway:
        """Take a customer's own away from a job, and put down that it was. Raises NotFoundError."""
        with self._database.writing() as connection:
            if connection.dialect.name == "sqlite":
                # what is deleted is written over on the disk, not only let go
                connection.exec_driver_sql("PRAGMA secure_delete = ON")
            # locks the job: an entry written in between would keep its texts
            job_rows.last_number(connection, number)
            job = _read(connection, number)
            taken = _counted(connection, job)
            # files first, while the entries still say which
            _files_away(connection, job)
            _texts_away(connection, job)
            entry = Entry(len(job.entries) + 1, self._database.clock(), by, Note(taken.sentence))
            _add(connection, number, entry)
            # the lists show and search a copy of the title and the contact
            job_lines.renew(connection, _read(connection, number))
        self._off_the_disk()
        return taken

    def _off_the_disk(self) -> None:
        """Let go of the pages that still hold what went, as far as others let us."""
        engine = self._database.engine
        with self._database.translated(writes=True):
            if engine.dialect.name == "postgresql":
                alone = engine.execution_options(isolation_level="AUTOCOMMIT")
                with alone.connect() as connection:
                    connection.execute(text("VACUUM entries, photos, recordings"))
                return
            # the log of a file keeps what was written until it is folded in; not in a transaction
            raw = engine.raw_connection()
            try:
                raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
            finally:
                raw.close()


def without_personal(body: Body) -> Body:
    """An entry without what somebody typed or showed; its figures, ids and days stay."""
    gone: dict[str, object] = {field.name: _emptied(field) for field in _typed(body)}
    # a list of jobs needs something to call the machine by
    if isinstance(body, Intake):
        gone["title"] = f"{body.maker} {body.model}".strip() or GONE
    if photo_ids(body):
        gone["photos"] = ()
    # fields are named at run time, which no type checker follows
    return replace(body, **gone) if gone else body  # type: ignore[arg-type]


def _typed(body: Body) -> list[EntryField]:
    """The fields of an entry that hold a free text; a kind that is new has its own in it too."""
    return [
        field
        for field in fields_of(type(body))
        if field.name not in _STAYING and _is_free_text(field) and getattr(body, field.name)
    ]


def _is_free_text(field: EntryField) -> bool:
    mark = mark_of(field.hint, Text)
    # the words of a quote are texts without a limit, put together for one customer
    return field.bare == tuple[str, ...] or (mark is not None and mark.letters == PLAIN_LETTERS)


def _emptied(field: EntryField) -> object:
    # what every entry of its kind has must not be empty when it is read back
    return GONE if field.required else field.default


def _read(connection: Connection, number: int) -> Job:
    if not job_rows.job_exists(connection, number):
        raise job_rows.no_job(connection, number)
    rows = connection.execute(
        select(EntryRow).where(EntryRow.job == number).order_by(EntryRow.number)
    )
    return Job(number, tuple(map(read_entry, rows)))


def _counted(connection: Connection, job: Job) -> TakenAway:
    changed = [entry for entry in job.entries if without_personal(entry.body) != entry.body]
    fields = {field.name for entry in changed for field in _typed(entry.body)}
    return TakenAway(
        job.number,
        tuple(sorted(fields)),
        len(changed),
        len({photo for entry in job.entries for photo in photo_ids(entry.body)}),
        len(_sounds(connection, job)),
    )


def _sounds(connection: Connection, job: Job) -> list[str]:
    """The sounds of the job's recordings: voices may be on them."""
    spins = {each for entry in job.entries for each in recording_ids(entry.body)}
    sounds = select(RecordingRow.sound).where(RecordingRow.id.in_(spins))
    return sorted({key for key in connection.execute(sounds).scalars() if key})


def _files_away(connection: Connection, job: Job) -> None:
    photos = {photo for entry in job.entries for photo in photo_ids(entry.body)}
    spins = {each for entry in job.entries for each in recording_ids(entry.body)}
    sounds = _sounds(connection, job)
    # the same photo sent to another job is that job's too
    # (asked of the text of the entries: no foreign key reaches into JSON)
    photos -= {key for key in photos if _named_elsewhere(connection, job.number, key)}
    for key in sorted(spins):
        # a file may bear somebody's name
        connection.execute(
            update(RecordingRow)
            .where(RecordingRow.id == key)
            .values(name="recording.csv", sound=None, sound_start_s=None)
        )
    # another job's recording may have the same sound
    kept = set(connection.execute(select(RecordingRow.sound)).scalars())
    connection.execute(delete(PhotoRow).where(PhotoRow.id.in_(photos)))
    connection.execute(delete(RecordingRow).where(RecordingRow.id.in_(set(sounds) - kept)))
    # what a phone never finished is nobody's evidence
    captures = select(CaptureRow.id).where(CaptureRow.job == job.number)
    connection.execute(delete(CapturePartRow).where(CapturePartRow.capture.in_(captures)))


def _named_elsewhere(connection: Connection, job: int, key: str) -> bool:
    """Whether another job's entry names a photo."""
    body = cast(EntryRow.body, LongText)
    named = select(EntryRow.number).where(EntryRow.job != job, body.contains(f'"{key}"'))
    return connection.execute(named.limit(1)).first() is not None


def _texts_away(connection: Connection, job: Job) -> None:
    with _unguarded(connection, "entries"):
        for entry in job.entries:
            body = without_personal(entry.body)
            if body != entry.body:
                here = (EntryRow.job == job.number) & (EntryRow.number == entry.number)
                connection.execute(update(EntryRow).where(here).values(body=body_to_json(body)))
    # somebody may have written a name beside the pieces that were held for it
    with _unguarded(connection, "movements"):
        connection.execute(update(MovementRow).where(MovementRow.job == job.number).values(note=""))
    # answers and figures that were kept say it again; both are worked out anew
    connection.execute(update(WriteRow).where(WriteRow.job == job.number).values(answer=None))
    connection.execute(delete(KeptRow).where(KeptRow.job == job.number))


def _add(connection: Connection, number: int, entry: Entry) -> None:
    row = {"job": number, "number": entry.number, "at": entry.at, "by": entry.by}
    row |= {"kind": kind_of(entry.body), "body": body_to_json(entry.body)}
    connection.execute(insert(EntryRow).values(row))


@contextmanager
def _unguarded(connection: Connection, table: str) -> Iterator[None]:
    """Lift the guards of an append-only table within this transaction, and put them back.

    Whoever fails in between takes the transaction back, and with it the lifting.
    """
    # only the owner of the tables may, and the program is: it laid them down
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        yield
        connection.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER USER"))
        return
    # kept word for word and laid down again: this need not know what the migrations wrote
    triggers = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = :table"
    guards = connection.execute(text(triggers), {"table": table}).all()
    for name, _ in guards:
        connection.exec_driver_sql(f'DROP TRIGGER "{name}"')
    yield
    for _, sql in guards:
        connection.exec_driver_sql(sql)
