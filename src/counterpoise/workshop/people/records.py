"""People and their sessions, and what may stand in them."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from counterpoise.errors import InputError
from counterpoise.workshop.people.roles import Role

LONGEST = 40  # letters of a name: it stands in a line of the bench beside others
# A day's work and no more, as for a phone; and half of it without a sign of life.
SESSION = timedelta(hours=12)
IDLE = timedelta(hours=6)
# How long an ended session of a browser still tells that its person has been there before.
REMEMBERED = timedelta(days=90)
_FORM = "%Y-%m-%dT%H:%M:%SZ"


# What evidence is signed with: who did something stays known after they left.
@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works here. One who is not ``active`` cannot sign in; their name stays theirs.

    ``since`` is UTC, ISO 8601.
    """

    number: int
    name: str
    role: Role
    active: bool
    since: str


@dataclass(frozen=True, slots=True)
class Session:
    """One browser or phone in which a person is signed in. Times are UTC, ISO 8601.

    ``id`` is the digest (SHA-256, hexadecimal) of its secret; ``device`` is what it was signed in
    on, in words. ``ended`` is empty, or why: ``out``, ``taken`` (by somebody else, or a new PIN).
    """

    id: str
    person: int
    name: str
    device: str
    begun: str
    last_seen: str
    ended: str = ""

    def open_at(self, now: str) -> bool:
        """Whether it still opens the pages: not ended, 12 h old at most, seen within 6 h."""
        at = moment(now)
        # a clock that was put back must not lengthen a session beyond what it was given
        young = at - moment(self.begun) < SESSION and at - moment(self.last_seen) < IDLE
        return not self.ended and young


def moment(text: str) -> datetime:
    """A time of the store (UTC, ISO 8601 to the second)."""
    return datetime.strptime(text, _FORM).replace(tzinfo=UTC)


def before(now: str, span: timedelta) -> str:
    """The time a span before another, as the store writes it."""
    return (moment(now) - span).strftime(_FORM)


def name_from(text: str) -> str:
    """A name as it is kept: composed letters (NFC), single blanks. Raises InputError."""
    # one name has one form: two that look alike must not be two people
    name = " ".join(unicodedata.normalize("NFC", text).split())
    plain = all(unicodedata.category(letter)[0] != "C" for letter in name)
    if not name or len(name) > LONGEST or not plain:
        raise InputError(
            f"name: a name has 1 to {LONGEST} letters",
            field="name",
            remedy="Give a first name or initials",
        )
    return name


def key_of(name: str) -> str:
    """What two names that are the same to people have in common."""
    return unicodedata.normalize("NFKC", name).casefold()


def role_from(text: str) -> Role:
    """A role by its word. Raises InputError."""
    try:
        return Role(text)
    except ValueError as error:
        raise InputError(
            f"role: there is no role {text[:LONGEST]!r}",
            field="role",
            remedy=f"Give one of {', '.join(Role)}",
        ) from error
