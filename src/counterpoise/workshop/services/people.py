"""The people of the workshop: who they are, whether they are who they say, where they are in."""

from __future__ import annotations

import secrets
from contextlib import suppress
from typing import TYPE_CHECKING

from counterpoise.errors import NotFoundError, StoreError
from counterpoise.workshop.people.records import (
    Person,
    Session,
    key_of,
    moment,
    name_from,
    role_from,
)
from counterpoise.workshop.people.roles import Right, Role, rights_of
from counterpoise.workshop.people.secret import Hasher, digest_of, secret_from

if TYPE_CHECKING:
    from counterpoise.workshop.store.store import Store

_SECRET_BYTES = 32  # 256 bits: nobody guesses one, however many there are
# A session that was seen is noted so often at most: reading pages should not write each time.
_NOTED_S = 60.0


class People:
    """The people of a workshop. ``hasher`` keeps and compares their secrets."""

    def __init__(self, store: Store, hasher: Hasher | None = None) -> None:
        self._store = store
        # given by tests, which need not spend what an attacker must
        self._hasher = hasher or Hasher()

    def any(self) -> bool:
        """Whether anybody works here by name; where nobody does, nobody signs in."""
        return self._store.people.any()

    def all(self) -> list[Person]:
        """Everybody, in the order they came; those who are gone too."""
        return self._store.people.all()

    def get(self, number: int) -> Person:
        """One by number. Raises NotFoundError."""
        return self._store.people.get(number)

    def by_name(self, name: str) -> Person:
        """One by name, gone or not. Raises NotFoundError."""
        wanted = key_of(" ".join(name.split()))
        person = next((each for each in self.all() if key_of(each.name) == wanted), None)
        if person is None:
            raise NotFoundError(
                f"Nobody here is called {name[:40]!r}", remedy="Look at: counterpoise people list"
            )
        return person

    def add(self, name: str, role: str, secret: str) -> Person:
        """Add somebody; the first is an owner. Raises InputError naming the field."""
        called, part = name_from(name), role_from(role)
        # hashed before the store is held: it takes a while
        kept = self._hasher.hashed(secret_from(secret, called))
        return self._store.people.add(called, part, kept)

    def change(self, number: int, role: str, *, active: bool, secret: str = "") -> Person:
        """Change what somebody is, and their secret where another is given; all or nothing.

        Raises NotFoundError, InputError naming the field, also where no owner would be left.
        """
        person, part = self.get(number), role_from(role)
        kept = self._hasher.hashed(secret_from(secret, person.name)) if secret else None
        return self._store.people.change(number, part, active=active, secret=kept)

    def renew(self, number: int, secret: str, keep: str = "") -> Person:
        """Give somebody another secret; their sessions end but that of the secret ``keep``.

        Raises NotFoundError, InputError naming the field.
        """
        person = self.get(number)
        kept = self._hasher.hashed(secret_from(secret, person.name))
        return self._store.people.renew(number, kept, digest_of(keep) if keep else "")

    def checked(self, name: str, secret: str) -> Person | None:
        """Who it is by name and secret; None where the two do not belong together.

        It takes as long for a name that nobody has.
        """
        known = self._store.people.named(name)
        if not self._hasher.matches(known[1] if known else None, secret) or known is None:
            return None
        person, kept = known
        if self._hasher.is_old(kept):
            self._store.people.rehashed(person.number, self._hasher.hashed(secret))
        return person

    def sign_in(self, person: Person, device: str) -> str:
        """Begin a session and return its secret, of which only a digest is kept."""
        secret = secrets.token_urlsafe(_SECRET_BYTES)
        self._store.people.begin(person.number, digest_of(secret), device)
        return secret

    def who(self, secret: str) -> Person | None:
        """Whose session a secret opens; None where it opens none, or none any more."""
        # the digest is looked up, so that comparing tells nothing by its time
        known = self._store.people.session(digest_of(secret)) if secret else None
        if known is None:
            return None
        session, person = known
        now = self._store.now()
        if not person.active or not session.open_at(now):
            return None
        if (moment(now) - moment(session.last_seen)).total_seconds() >= _NOTED_S:
            # a store that can only be read can still be read
            with suppress(StoreError):
                self._store.people.saw(session.id)
        return person

    def knows_device(self, secret: str, name: str) -> bool:
        """Whether the browser with this secret, good or run out, is one where this person was in.

        One whose session was ended by hand is not.
        """
        known = self._store.people.session(digest_of(secret)) if secret else None
        return known is not None and not known[0].ended and key_of(known[1].name) == key_of(name)

    def sessions(self, of: int = 0) -> list[Session]:
        """The sessions that are open now, the one seen last first; ``of`` one person, 0: all."""
        return [each for each in self._store.people.sessions() if of in {0, each.person}]

    def sign_out(self, secret: str) -> None:
        """End the session of a secret; nothing where it opens none."""
        self._store.people.end(digest_of(secret), "out")

    def end_all(self, number: int) -> int:
        """End all sessions of a person and return how many were open."""
        return self._store.people.end_all(number)

    def end(self, session: str, by: Person) -> None:
        """End a session by its id: one's own, or for an owner anybody's. Raises NotFoundError."""
        # of somebody else there is none, for whoever may not end it
        mine = 0 if Right.PEOPLE in rights_of(by.role) else by.number
        if all(each.id != session for each in self.sessions(mine)):
            raise NotFoundError("There is no such session open", remedy="Look at /people.")
        self._store.people.end(session, "taken")

    def allowed(self, person: Person) -> frozenset[Right]:
        """What a person may do, as the workshop is set now."""
        # one look into the settings less for all others
        if person.role is not Role.BENCH:
            return rights_of(person.role)
        return rights_of(person.role, bench_sees_money=self.bench_sees_money)

    @property
    def bench_sees_money(self) -> bool:
        """Whether the owner lets the bench see money."""
        return self._store.settings.get().bench_sees_money
