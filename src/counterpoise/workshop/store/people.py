"""The people of a store and their sessions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    Connection,
    ForeignKey,
    LargeBinary,
    String,
    delete,
    exists,
    func,
    insert,
    select,
    update,
)
from sqlalchemy.orm import Mapped, mapped_column

from counterpoise.errors import InputError, NotFoundError
from counterpoise.workshop.people.records import REMEMBERED, Person, Session, before, key_of
from counterpoise.workshop.people.roles import Role
from counterpoise.workshop.store.database import LARGEST_KEY
from counterpoise.workshop.store.tables import Base

if TYPE_CHECKING:
    from counterpoise.workshop.store.database import Database

MOST_SESSIONS = 50  # of one person; the one seen longest ago makes room


class PersonRow(Base):
    """Somebody who works here; never removed, for their name stands in the evidence."""

    __tablename__ = "people"
    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012  # as SQLAlchemy wants it

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    name: Mapped[str] = mapped_column(String(40))
    # unique, so that nobody can sign as somebody else, were they gone for years
    key: Mapped[str] = mapped_column(String(200), unique=True)
    role: Mapped[str] = mapped_column(String(16))
    active: Mapped[bool]
    since: Mapped[str] = mapped_column(String(32))
    secret: Mapped[bytes] = mapped_column(LargeBinary)


class SessionRow(Base):
    """Where somebody is signed in; ``id`` is the digest of the secret that the browser keeps."""

    __tablename__ = "sessions"

    id: Mapped[str] = mapped_column(String(64), primary_key=True)
    person: Mapped[int] = mapped_column(ForeignKey("people.number"), index=True)
    device: Mapped[str] = mapped_column(String(80))
    begun: Mapped[str] = mapped_column(String(32))
    last_seen: Mapped[str] = mapped_column(String(32))
    ended: Mapped[str] = mapped_column(String(16))


# without the secret: who only lists people has no use for it
_PERSON = (PersonRow.number, PersonRow.name, PersonRow.role, PersonRow.active, PersonRow.since)
_SESSION = (
    SessionRow.id, SessionRow.person, PersonRow.name, SessionRow.device, SessionRow.begun,
    SessionRow.last_seen, SessionRow.ended,
)  # fmt: skip


class People:
    """The people of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def any(self) -> bool:
        """Whether anybody works here by name; where nobody does, nobody signs in."""
        with self._database.reading() as connection:
            return bool(connection.execute(select(exists(select(PersonRow.number)))).scalar())

    def all(self) -> list[Person]:
        """Everybody, in the order they came; those who are gone too."""
        asked = select(*_PERSON).order_by(PersonRow.number)
        with self._database.reading() as connection:
            return [_person(row) for row in connection.execute(asked)]

    def get(self, number: int) -> Person:
        """One by number. Raises NotFoundError."""
        with self._database.reading() as connection:
            return _one(connection, number)

    def named(self, name: str) -> tuple[Person, bytes] | None:
        """One who is active by name, with what is kept of the secret; None where nobody is."""
        asked = select(*_PERSON, PersonRow.secret).where(
            PersonRow.key == key_of(name), PersonRow.active
        )
        with self._database.reading() as connection:
            row = connection.execute(asked).first()
        return None if row is None else (_person(row), row.secret)

    def add(self, name: str, role: Role, secret: bytes) -> Person:
        """Add somebody; ``secret`` as it is kept. Raises InputError where the name is taken.

        The first is an owner, whatever was asked.
        """
        with self._database.writing() as connection:
            taken = connection.execute(select(*_PERSON).where(PersonRow.key == key_of(name)))
            if row := taken.first():
                raise InputError(
                    f"name: there is {row.name} already"
                    + ("" if row.active else ", who does not work here now"),
                    field="name",
                    remedy="Give another name: it tells who did what",
                )
            # somebody has to be able to add the second
            first = connection.execute(select(func.count(PersonRow.number))).scalar() == 0
            values = {
                "name": name, "key": key_of(name), "role": str(Role.OWNER if first else role),
                "active": True, "since": self._database.clock(), "secret": secret,
            }  # fmt: skip
            made = connection.execute(
                insert(PersonRow).values(values).returning(PersonRow.number)
            ).scalar_one()
            return _one(connection, made)

    def change(
        self, number: int, role: Role, *, active: bool, secret: bytes | None = None
    ) -> Person:
        """Change what somebody is, and the secret where there is another; all or nothing.

        Whoever is no longer active, or has another secret, is signed out everywhere. Raises
        NotFoundError, InputError where no owner would be left.
        """
        with self._database.writing() as connection:
            was = _one(connection, number)
            # under the write lock: two owners who make each other bench at once leave one
            owners = select(func.count(PersonRow.number)).where(
                PersonRow.role == str(Role.OWNER), PersonRow.active, PersonRow.number != number
            )
            stays = active and role is Role.OWNER
            last = was.active and was.role is Role.OWNER and not stays
            if last and not connection.execute(owners).scalar():
                raise InputError(
                    f"role: {was.name} is the last owner, and the workshop would have none",
                    field="role",
                    remedy="Make somebody else owner first",
                )
            values = {"role": str(role), "active": active}
            values |= {"secret": secret} if secret else {}
            connection.execute(update(PersonRow).where(PersonRow.number == number).values(**values))
            if secret or not active:
                _end(connection, number, "taken")
            return _one(connection, number)

    def renew(self, number: int, secret: bytes, keep: str = "") -> Person:
        """Put another secret in the place of the old, and end their sessions but ``keep`` (an id).

        Raises NotFoundError.
        """
        with self._database.writing() as connection:
            person = _one(connection, number)
            connection.execute(
                update(PersonRow).where(PersonRow.number == number).values(secret=secret)
            )
            _end(connection, number, "taken", keep)
        return person

    def rehashed(self, number: int, secret: bytes) -> None:
        """Keep the same secret by a better hash; sessions stay."""
        with self._database.writing() as connection:
            connection.execute(
                update(PersonRow).where(PersonRow.number == number).values(secret=secret)
            )

    # --- sessions ---

    def begin(self, person: int, id_: str, device: str) -> None:
        """Sign somebody in under the digest of a secret; what is long over is forgotten."""
        with self._database.writing() as connection:
            now = self._database.clock()
            connection.execute(
                delete(SessionRow).where(SessionRow.last_seen < before(now, REMEMBERED))
            )
            # a program that signs in each time must not fill the store
            mine = select(SessionRow.id).where(SessionRow.person == person)
            old = connection.execute(
                mine.order_by(SessionRow.last_seen.desc()).offset(MOST_SESSIONS - 1)
            ).scalars()
            connection.execute(delete(SessionRow).where(SessionRow.id.in_(list(old))))
            values = {
                "id": id_, "person": person, "device": device[:80], "begun": now, "last_seen": now,
                "ended": "",
            }  # fmt: skip
            connection.execute(insert(SessionRow).values(values))

    def session(self, id_: str) -> tuple[Session, Person] | None:
        """A session, over or not, with its person as they are now; None where there is none."""
        asked = (
            select(*_SESSION, PersonRow.role, PersonRow.active, PersonRow.since)
            .join(PersonRow, PersonRow.number == SessionRow.person)
            .where(SessionRow.id == id_)
        )
        with self._database.reading() as connection:
            row = connection.execute(asked).first()
        if row is None:
            return None
        return _session(row), Person(row.person, row.name, Role(row.role), row.active, row.since)

    def saw(self, id_: str) -> None:
        """Note that a session was used just now."""
        with self._database.writing() as connection:
            now = self._database.clock()
            connection.execute(update(SessionRow).where(SessionRow.id == id_).values(last_seen=now))

    def sessions(self) -> list[Session]:
        """Those that are open now, the one seen last first."""
        now = self._database.clock()
        asked = (
            select(*_SESSION)
            .join(PersonRow, PersonRow.number == SessionRow.person)
            .where(SessionRow.ended == "")
            .order_by(SessionRow.last_seen.desc(), SessionRow.id)
        )
        with self._database.reading() as connection:
            every = [_session(row) for row in connection.execute(asked)]
        return [each for each in every if each.open_at(now)]

    def end_all(self, person: int) -> int:
        """End all sessions of a person and return how many that were."""
        with self._database.writing() as connection:
            return _end(connection, person, "taken")

    def end(self, id_: str, why: str) -> None:
        """End a session; nothing where it is over."""
        with self._database.writing() as connection:
            chosen = update(SessionRow).where(SessionRow.id == id_, SessionRow.ended == "")
            connection.execute(chosen.values(ended=why))


def _one(connection: Connection, number: int) -> Person:
    asked = select(*_PERSON).where(PersonRow.number == number)
    row = connection.execute(asked).first() if 0 < number <= LARGEST_KEY else None
    if row is None:
        raise NotFoundError(f"There is nobody with number {number}", remedy="Look at /people.")
    return _person(row)


def _end(connection: Connection, person: int, why: str, keep: str = "") -> int:
    mine = (SessionRow.person == person, SessionRow.ended == "", SessionRow.id != keep)
    return connection.execute(update(SessionRow).where(*mine).values(ended=why)).rowcount


def _person(row: Any) -> Person:
    return Person(row.number, row.name, Role(row.role), row.active, row.since)


def _session(row: Any) -> Session:
    return Session(row.id, row.person, row.name, row.device, row.begun, row.last_seen, row.ended)
