"""Who may come in from the network: a code lets one phone in, once and soon.

The phone is then known for a day's work.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

# Ten minutes: from the screen in the office to the machine in the yard and back; a photograph of
# the code is worthless by evening.
TICKET_S = 600.0
# A day's work and no more: a phone that is lost tonight is a stranger tomorrow.
SESSION_S = 12 * 3600.0
# Every view of the record page makes a ticket; without a bound a page that is reloaded all day
# would fill the memory.
MOST_TICKETS = 400
MOST_SESSIONS = 100


@dataclass(slots=True)
class _Ticket:
    path: str
    until: float
    used: bool = False


@dataclass(frozen=True, slots=True)
class Redeemed:
    """Let in: the path to go to, and the secret to be known by.

    ``session`` is empty for a phone that was known already.
    """

    path: str
    session: str = ""


class Pairing:
    """Tickets and sessions, in memory: when the program stops, all are gone.

    ``origin`` is the phones' address, without a slash at its end; ``clock`` counts seconds and
    never runs back. Threads may share one.
    """

    def __init__(self, origin: str, clock: Callable[[], float] = time.monotonic) -> None:
        self.origin = origin
        self._clock = clock
        self._tickets: dict[str, _Ticket] = {}
        self._sessions: dict[str, float] = {}
        # Two phones that scan the same screen at once come in by two threads: one of them must
        # lose.
        self._lock = threading.Lock()

    def new_code(self, path: str, seconds: float = TICKET_S) -> str:
        """Return an address that lets one phone in, once and within ``seconds``, to a page of ours.

        Beyond :data:`MOST_TICKETS` the oldest ticket is forgotten.
        """
        # 192 bits: not to be guessed in ten minutes, and still a QR code that a screen shows
        # well.
        token = secrets.token_urlsafe(24)
        with self._lock:
            self._forget()
            if len(self._tickets) >= MOST_TICKETS:
                # Dicts keep the order of insertion, so the first is the oldest.
                del self._tickets[next(iter(self._tickets))]
            self._tickets[_mark(token)] = _Ticket(path, self._clock() + seconds)
        return f"{self.origin}/phone/in/{token}"

    def redeem(self, token: str, session: str = "") -> Redeemed | None:
        """Use a ticket up and say where to go; None where it is not, or no longer, valid.

        A phone that is known by ``session`` may come by its old one again, and uses none up.
        """
        with self._lock:
            self._forget()
            ticket = self._tickets.get(_mark(token))
            if ticket is None:
                return None
            # Before "used": browsers repeat a request by themselves, and a phone that just came
            # in by this code must not be turned away.
            if self._knows(session):
                return Redeemed(ticket.path)
            if ticket.used:
                return None
            ticket.used = True
            if len(self._sessions) >= MOST_SESSIONS:
                del self._sessions[next(iter(self._sessions))]
            # A new secret, never the ticket: that was on a screen for all to see.
            fresh = secrets.token_urlsafe(32)
            self._sessions[_mark(fresh)] = self._clock() + SESSION_S
            return Redeemed(ticket.path, fresh)

    def is_paired(self, session: str) -> bool:
        """Whether this secret was given out and is not 12 hours old yet."""
        with self._lock:
            return self._knows(session)

    def _knows(self, session: str) -> bool:
        return bool(session) and self._sessions.get(_mark(session), 0.0) > self._clock()

    def _forget(self) -> None:
        now = self._clock()
        self._tickets = {
            mark: ticket for mark, ticket in self._tickets.items() if ticket.until > now
        }
        self._sessions = {mark: until for mark, until in self._sessions.items() if until > now}


def _mark(secret: str) -> str:
    """What is remembered of a secret: looked up by its digest, so that comparing tells no time."""
    # Kept as digests, so that a dump of the memory opens nothing. "replace": a header may hold
    # half a character, which is no reason to fail.
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
