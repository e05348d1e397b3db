"""The rows that lists are made of: one a job, renewed with every entry, for nothing else.

They are made of the entries and can be made anew from them; a store that has none yet gets them
when its jobs are first listed.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Literal

from sqlalchemy import (
    ColumnElement,
    Connection,
    ForeignKey,
    Index,
    String,
    Text,
    case,
    delete,
    func,
    insert,
    or_,
    select,
    update,
)
from sqlalchemy.orm import Mapped, mapped_column

from counterpoise.workshop.jobs.choices import MISTAKE
from counterpoise.workshop.jobs.entries import Job, Proof, RepairDone
from counterpoise.workshop.store.tables import Base, EntryRow, JobRow

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from counterpoise.workshop.store.database import Database

# Raised where the rows are made otherwise: those of before are then made anew.
VERSION = 1
# Of a job that could not be read: tried again at the next start, when it may have been mended.
_DAMAGED = 0
# Rows made in one transaction: others may write in between.
_AT_ONCE = 200
State = Literal["open", "closed", "mistake"]
_WORDS = ("title", "maker", "model", "serial", "contact")


# Beside the evidence, not of it: made anew from it whenever that is wanted.
class JobLineRow(Base):
    """A job as the lists show it: where it stands by its entries, the last of which is ``entries``.

    ``state`` is open, closed or mistake; ``words`` are what it is looked for by, in lower case.
    """

    __tablename__ = "job_lines"
    __table_args__ = (Index("ix_job_lines_state", "state", "job"),)

    job: Mapped[int] = mapped_column(
        ForeignKey("jobs.number"), primary_key=True, autoincrement=False
    )
    # of how it is made: a row of another version is made anew
    version: Mapped[int]
    state: Mapped[str] = mapped_column(String(16))
    title: Mapped[str] = mapped_column(Text)
    family: Mapped[str] = mapped_column(String(80))
    owner: Mapped[str] = mapped_column(String(16))
    words: Mapped[str] = mapped_column(Text)
    opened_at: Mapped[str] = mapped_column(String(32))
    last_at: Mapped[str] = mapped_column(String(32))
    entries: Mapped[int]
    decision: Mapped[str] = mapped_column(String(80))
    ending: Mapped[str] = mapped_column(String(80))
    promised: Mapped[str] = mapped_column(String(200))
    parts_due: Mapped[str] = mapped_column(String(200))
    proof: Mapped[str] = mapped_column(String(16))


_ROW = JobLineRow


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in the list of jobs.

    Times are UTC, ISO 8601; ``ending`` and ``decision`` are empty where there is none. ``proof`` is
    ``due`` after a repair, ``passed`` or ``failed`` once it was run, else empty.
    """

    number: int
    title: str
    family: str
    owner: str
    opened_at: str
    last_at: str
    # how many, so that a page can say that something was added since
    entries: int
    # closed jobs are kept; the list of the day leaves them out
    open: bool
    decision: str = ""
    ending: str = ""
    promised: str = ""
    parts_due: str = ""
    proof: str = ""
    # why the job cannot be read, empty where it can
    damage: str = ""


@dataclass(frozen=True, slots=True)
class LineQuery:
    """Which jobs: of a state (empty: all that were no mistake), with these words, so many of them.

    ``limit`` None: all.
    """

    state: State | Literal[""] = ""
    words: str = ""
    limit: int | None = None
    offset: int = 0


def renew(connection: Connection, job: Job) -> None:
    """Write the row of a job anew."""
    connection.execute(delete(_ROW).where(_ROW.job == job.number))
    connection.execute(insert(_ROW).values(**_values(job)))


def mark_damaged(connection: Connection, job: int, why: str) -> None:
    """Give a job that cannot be read a row that says so, among the open ones."""
    # times and numbers are columns of their own: they can be read where the body cannot
    at = select(EntryRow.at, EntryRow.number).where(EntryRow.job == job).order_by(EntryRow.number)
    written = connection.execute(at).all()
    texts = dict.fromkeys(
        ("family", "owner", "words", "decision", "ending", "promised", "parts_due", "proof"), ""
    )
    connection.execute(delete(_ROW).where(_ROW.job == job))
    connection.execute(
        insert(_ROW).values(
            job=job,
            version=_DAMAGED,
            # among those that somebody has to look at
            state="open",
            title=why,
            opened_at=written[0].at if written else "",
            last_at=max((row.at for row in written), default=""),
            entries=written[-1].number if written else 0,
            **texts,
        )
    )


def touch(connection: Connection, job: int, entry: int, at: str) -> bool:
    """Note an entry that changes nothing else in the row; False where there is no row yet."""
    same = update(_ROW).where(_ROW.job == job, _ROW.version == VERSION)
    # a clock set back must not make a job look older than it is
    later = case((_ROW.last_at > at, _ROW.last_at), else_=at)
    return connection.execute(same.values(entries=entry, last_at=later)).rowcount == 1


def make_missing(database: Database, make: Callable[[Connection, int], None]) -> None:
    """Have ``make`` write the row of each job that has none of this version. Raises StoreError."""
    last = 0
    while True:
        with database.reading() as connection:
            numbers = _missing(connection, last)
        if not numbers:
            return
        # past those that cannot be read, which would be missing for ever
        last = numbers[-1]
        with database.writing() as connection:
            for number in numbers:
                make(connection, number)


def _missing(connection: Connection, after: int) -> Sequence[int]:
    """Numbers of jobs above ``after`` without a row of this version: as many as go at once."""
    known = select(_ROW.job).where(_ROW.version == VERSION, _ROW.job == JobRow.number)
    wanted = select(JobRow.number).where(~known.exists(), JobRow.number > after)
    return connection.execute(wanted.order_by(JobRow.number).limit(_AT_ONCE)).scalars().all()


def lines(connection: Connection, query: LineQuery) -> list[JobLine]:
    """The jobs asked for, newest first."""
    chosen = (
        select(*_ROW.__table__.columns)
        .where(*_conditions(query))
        .order_by(_ROW.job.desc())
        .limit(query.limit)
        .offset(query.offset)
    )
    # as columns, not as objects: a list of hundreds is read for every look at it
    rows = connection.execute(chosen).mappings()
    return [_line({str(name): value for name, value in row.items()}) for row in rows]


def count(connection: Connection, query: LineQuery) -> int:
    """How many there are, whatever the limit."""
    chosen = select(func.count()).select_from(_ROW).where(*_conditions(query))
    return connection.execute(chosen).scalar_one()


def _conditions(query: LineQuery) -> list[ColumnElement[bool]]:
    wanted = [_ROW.state == query.state] if query.state else [_ROW.state != "mistake"]
    for word in query.words.lower().split()[:8]:
        inside = _ROW.words.contains(word, autoescape=True)
        # a number is that of the job, or part of a model's name
        number = word.removeprefix("no.")
        wanted.append(or_(_ROW.job == int(number), inside) if _is_number(number) else inside)
    return wanted


def _is_number(word: str) -> bool:
    return word.isascii() and word.isdecimal() and len(word) < 10


def _values(job: Job) -> dict[str, object]:
    intake, closed, decision = job.intake, job.closed, job.decision
    words = " ".join(str(getattr(intake, name)) for name in _WORDS)
    state = "open" if closed is None else "mistake" if closed.ending == MISTAKE else "closed"
    return {
        "job": job.number,
        "version": VERSION,
        "state": state,
        "title": intake.title,
        "family": intake.family[:80],
        "owner": intake.owner,
        "words": words.lower(),
        "opened_at": job.entries[0].at,
        "last_at": max(entry.at for entry in job.entries),
        "entries": job.entries[-1].number,
        "decision": decision.option if decision else "",
        "ending": closed.ending if closed else "",
        "promised": intake.promised[:200],
        "parts_due": job.parts_due[:200],
        "proof": _proof(job),
    }


def _proof(job: Job) -> str:
    """How it stands with the proof of what was mended since the machine last came back."""
    # asked once: it looks through all entries
    proof, came_back = "", job.came_back
    for entry in job.standing:
        if entry.number <= came_back:
            continue
        if isinstance(entry.body, RepairDone):
            proof = "due"
        elif isinstance(entry.body, Proof):
            proof = "passed" if entry.body.passed else "failed"
    return proof


def _line(row: Mapping[str, Any]) -> JobLine:
    own = {part.name: row[part.name] for part in fields(JobLine) if part.name in row}
    if row["version"] == _DAMAGED:
        own |= {"title": "This job cannot be read", "damage": row["title"]}
    return JobLine(number=row["job"], open=row["state"] == "open", **own)
