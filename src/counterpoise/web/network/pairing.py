"""Who may come in from the network: a code lets one phone in, once and soon; it is then known for a day's work."""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

TICKET_S = 600.0
SESSION_S = 12 * 3600.0
MOST_TICKETS = 400
MOST_SESSIONS = 100


@dataclass(slots=True)
class _Ticket:
    path: str
    until: float
    used: bool = False


@dataclass(frozen=True, slots=True)
class Redeemed:
    """Let in: where to go, and the secret to be known by; empty for a phone that was known already."""

    path: str
    session: str = ""


class Pairing:
    """Tickets and sessions, in memory: when the program stops, all are gone. ``origin`` is the phones' address."""

    def __init__(self, origin: str, clock: Callable[[], float] = time.monotonic) -> None:
        self.origin = origin
        self._clock = clock
        self._tickets: dict[str, _Ticket] = {}
        self._sessions: dict[str, float] = {}
        self._lock = threading.Lock()

    def new_code(self, path: str, seconds: float = TICKET_S) -> str:
        """Return an address that lets one phone in, once, and leads it to a page of ours."""
        token = secrets.token_urlsafe(24)
        with self._lock:
            self._forget()
            if len(self._tickets) >= MOST_TICKETS:
                del self._tickets[next(iter(self._tickets))]
            self._tickets[_mark(token)] = _Ticket(path, self._clock() + seconds)
        return f"{self.origin}/phone/in/{token}"

    def redeem(self, token: str, session: str = "") -> Redeemed | None:
        """Use a ticket up; None where it is not, or no longer, one. A known phone may come by its old one again."""
        with self._lock:
            self._forget()
            found = self._tickets.get(_mark(token))
            if found is None:
                return None
            if self._knows(session):
                return Redeemed(found.path)
            if found.used:
                return None
            found.used = True
            if len(self._sessions) >= MOST_SESSIONS:
                del self._sessions[next(iter(self._sessions))]
            fresh = secrets.token_urlsafe(32)
            self._sessions[_mark(fresh)] = self._clock() + SESSION_S
            return Redeemed(found.path, fresh)

    def is_paired(self, session: str) -> bool:
        """Whether this secret was given out and still holds."""
        with self._lock:
            return self._knows(session)

    def _knows(self, session: str) -> bool:
        return bool(session) and self._sessions.get(_mark(session), 0.0) > self._clock()

    def _forget(self) -> None:
        now = self._clock()
        self._tickets = {mark: one for mark, one in self._tickets.items() if one.until > now}
        self._sessions = {mark: until for mark, until in self._sessions.items() if until > now}


def _mark(secret: str) -> str:
    """What is remembered of a secret: looked up by its digest, so that comparing takes no telling time."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
