"""The tables of the store.

Entries, prices, lots and movements are append-only: triggers of the migrations refuse change and
removal, so that no program can do either behind the back of this one.
"""

from __future__ import annotations

from sqlalchemy import JSON, Float, ForeignKey, LargeBinary, MetaData, String
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

# SQLite leaves a constraint without a name unnamed, and what has no name cannot be altered later
_NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Root of the tables; constraints are named by rule: later migrations can reach them."""

    # migrations and tables must name alike, or a migration would not find what it alters
    metadata = MetaData(naming_convention=_NAMES)


class JobRow(Base):
    """A job: no more than its number and when it was opened; the rest is in its entries."""

    __tablename__ = "jobs"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    # never given twice, even where a job could be deleted: numbers are on paper and labels
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    opened_at: Mapped[str] = mapped_column(String(32))


class EntryRow(Base):
    """One line of evidence. ``at`` is UTC, ISO 8601.

    ``body`` is as :mod:`counterpoise.workshop.jobs.entry_json` writes it.
    """

    __tablename__ = "entries"

    # (job, number) is the key: two writers cannot both add entry 5
    job: Mapped[int] = mapped_column(
        ForeignKey("jobs.number"), primary_key=True, autoincrement=False
    )
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[str] = mapped_column(String(32))
    by: Mapped[str] = mapped_column(String(200))
    # beside the body, so that the list of jobs reads only the kinds it shows
    kind: Mapped[str] = mapped_column(String(32), index=True)
    # JSON rather than columns: a kind of entry may gain fields without a migration
    body: Mapped[dict[str, object]] = mapped_column(JSON)


class PhotoRow(Base):
    """A photo as it was cleaned; its id is the digest of its bytes."""

    __tablename__ = "photos"

    # the digest as the key keeps every file once, however often it is sent
    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    added_at: Mapped[str] = mapped_column(String(32))
    # in the database, so that one file is the whole workshop and its backup
    data: Mapped[bytes] = mapped_column(LargeBinary)


class RecordingRow(Base):
    """A recording of a spin, byte for byte as it came; its id is the digest of its bytes.

    Beside it what is known of it: the programme's top speed in rpm, the id of the recording that
    is its sound, and when that begins on the recording's clock, in seconds.
    """

    __tablename__ = "recordings"

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    added_at: Mapped[str] = mapped_column(String(32))
    name: Mapped[str] = mapped_column(String(200))
    data: Mapped[bytes] = mapped_column(LargeBinary)
    # may be said later than the recording was sent, so it may be empty and may change
    top_rpm: Mapped[float | None] = mapped_column(Float)
    sound: Mapped[str | None] = mapped_column(String(32))
    sound_start_s: Mapped[float | None] = mapped_column(Float)


class CaptureRow(Base):
    """A recording that came to a job: piece by piece from a phone, or as a file.

    ``recording`` is the id of the whole, empty until all of it is there.
    """

    __tablename__ = "captures"

    id: Mapped[str] = mapped_column(String(32), primary_key=True)
    job: Mapped[int] = mapped_column(ForeignKey("jobs.number"))
    # what is never finished makes room after a while
    begun_at: Mapped[str] = mapped_column(String(32))
    recording: Mapped[str] = mapped_column(String(32))


class CapturePartRow(Base):
    """One piece of it: lines of a table; gone once the recording is whole."""

    __tablename__ = "capture_parts"

    capture: Mapped[str] = mapped_column(ForeignKey("captures.id"), primary_key=True)
    # the phone numbers its pieces; one that comes twice is found by that
    part: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    data: Mapped[bytes] = mapped_column(LargeBinary)


class PriceListRow(Base):
    """A supplier's list that came in, or the taking back of one (``takes_back``).

    ``whole``: it replaced the supplier's former lists.
    """

    __tablename__ = "price_lists"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    at: Mapped[str] = mapped_column(String(32))
    by: Mapped[str] = mapped_column(String(200))
    supplier: Mapped[str] = mapped_column(String(200))
    file: Mapped[str] = mapped_column(String(200))
    whole: Mapped[bool]
    left_out: Mapped[int]
    # a list is never deleted: the row that takes it back says who did and when
    takes_back: Mapped[int | None] = mapped_column(ForeignKey("price_lists.number"))


class PriceRow(Base):
    """A line of a price list: ``price_minor`` (minor units) for ``pack`` pieces of a part.

    It is for machines of ``maker``; empty: any.
    """

    __tablename__ = "prices"

    list: Mapped[int] = mapped_column(
        ForeignKey("price_lists.number"), primary_key=True, autoincrement=False
    )
    # the line of the file, so that somebody can look it up there
    line: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    family: Mapped[str] = mapped_column(String(80))
    part: Mapped[str] = mapped_column(String(80), index=True)
    kind: Mapped[str] = mapped_column(String(16))
    price_minor: Mapped[int]
    pack: Mapped[int]
    # None: the list says nothing of it, which is not the same as at once
    lead_days: Mapped[int | None]
    maker: Mapped[str] = mapped_column(String(200))
    number: Mapped[str] = mapped_column(String(200))
    description: Mapped[str] = mapped_column(String(200))


class LotRow(Base):
    """Pieces of a part that came in together.

    How many are left, and where, is in their movements. ``cost_minor`` and ``asked_minor`` are
    minor units of one piece; ``good``: the probability that a used one works.
    """

    __tablename__ = "lots"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    family: Mapped[str] = mapped_column(String(80))
    # no foreign key: the catalog is a file, and an item may be gone from it while pieces lie there
    item: Mapped[str] = mapped_column(String(80), index=True)
    kind: Mapped[str] = mapped_column(String(16))
    cost_minor: Mapped[int]
    asked_minor: Mapped[int | None]
    maker: Mapped[str] = mapped_column(String(200))
    model: Mapped[str] = mapped_column(String(200))
    # the machine a piece came off, so that a label leads back to it
    donor: Mapped[int | None] = mapped_column(ForeignKey("jobs.number"))
    good: Mapped[float | None] = mapped_column(Float)


class MovementRow(Base):
    """What happened to a lot: ``pieces`` in stock and ``held`` for jobs, each more or fewer."""

    __tablename__ = "movements"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    lot: Mapped[int] = mapped_column(ForeignKey("lots.number"), index=True)
    at: Mapped[str] = mapped_column(String(32))
    by: Mapped[str] = mapped_column(String(200))
    kind: Mapped[str] = mapped_column(String(16))
    # changes, not states: what lies there is their sum, and a wrong one is undone by its opposite
    pieces: Mapped[int]
    held: Mapped[int]
    job: Mapped[int | None] = mapped_column(ForeignKey("jobs.number"), index=True)
    # of the job's entries, so that taking the entry back gives the pieces back
    entry: Mapped[int | None]
    place: Mapped[str] = mapped_column(String(200))
    note: Mapped[str] = mapped_column(String(400))
    # unique, so that the database itself refuses to undo a movement twice
    undoes: Mapped[int | None] = mapped_column(ForeignKey("movements.number"), unique=True)


class KeptRow(Base):
    """What the assessment of a job came to: a copy for lists, worked out anew wherever it is old.

    ``entry`` is the last one it was computed from, ``source`` the digest of all of that, ``mark``
    that of what it hangs on beside the job. It may be thrown away at any time.
    """

    __tablename__ = "kept"

    job: Mapped[int] = mapped_column(
        ForeignKey("jobs.number"), primary_key=True, autoincrement=False
    )
    entry: Mapped[int]
    source: Mapped[str] = mapped_column(String(64))
    mark: Mapped[str] = mapped_column(String(64))
    at: Mapped[str] = mapped_column(String(32))
    figures: Mapped[dict[str, object]] = mapped_column(JSON)


# only what differs from the defaults: a better default reaches everybody else
class SettingRow(Base):
    """A setting that differs from its default."""

    __tablename__ = "settings"

    # FAMILY.NAME where it holds for one family
    key: Mapped[str] = mapped_column(String(160), primary_key=True)
    value: Mapped[object] = mapped_column(JSON)
    changed_at: Mapped[str] = mapped_column(String(32))


class WriteRow(Base):
    """A write that was sent with a key, so that the same one again writes nothing.

    ``digest`` tells what was sent; ``job`` and ``entry`` are the last entry written, None where
    none was; ``answer`` is what was answered, None where that is worked out anew.
    """

    __tablename__ = "writes"

    key: Mapped[str] = mapped_column(String(100), primary_key=True)
    digest: Mapped[str] = mapped_column(String(64))
    at: Mapped[str] = mapped_column(String(32))
    job: Mapped[int | None] = mapped_column(ForeignKey("jobs.number"), index=True)
    entry: Mapped[int | None]
    answer: Mapped[dict[str, object] | None] = mapped_column(JSON(none_as_null=True))


class LearnedRow(Base):
    """What was last learned of a family: a result that is kept, and computed anew when it is old.

    ``of`` is the digest of the family as written, ``key`` of all that it was learned from.
    """

    __tablename__ = "learned"

    family: Mapped[str] = mapped_column(String(80), primary_key=True)
    at: Mapped[str] = mapped_column(String(32))
    of: Mapped[str] = mapped_column(String(80))
    key: Mapped[str] = mapped_column(String(80))
    body: Mapped[dict[str, object]] = mapped_column(JSON)


class LearningDecisionRow(Base):
    """What somebody decided of learning: append-only, and the latest of a kind holds.

    ``kind``: ``until`` (no closing after ``value`` counts; empty: all do), ``take_back`` or
    ``give_back`` (the figure at the place ``value`` is the written one, or is learned again).
    """

    __tablename__ = "learning_decisions"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    at: Mapped[str] = mapped_column(String(32))
    by: Mapped[str] = mapped_column(String(200))
    family: Mapped[str] = mapped_column(String(80), index=True)
    kind: Mapped[str] = mapped_column(String(16))
    value: Mapped[str] = mapped_column(String(400))
