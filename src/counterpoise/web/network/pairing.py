"""Who may come in from the network: a code lets one phone in, once and soon.

The phone is then known for a day's work. A code carries where it leads and until when, signed by a
secret of this run: nothing is kept of it before it is used, so that no number of codes made by
others pushes it out.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import secrets
import threading
import time
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING

from counterpoise.workshop.people.secret import digest_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.datastructures import Headers

COOKIE = "__Host-phone"  # the name makes browsers insist on a protected line and on this very host

# Ten minutes: from the screen in the office to the machine in the yard and back; a photograph of
# the code is worthless by evening.
TICKET_S = 600.0
# A day's work and no more: a phone that is lost tonight is a stranger tomorrow.
SESSION_S = 12 * 3600.0
MOST_SESSIONS = 100
# Bytes of a code: what makes it another than all others, until when it holds, whose it is, the
# signature.
_NONCE, _UNTIL, _PERSON, _SIGNATURE = 9, 6, 4, 18
_HEAD = _NONCE + _UNTIL + _PERSON


@dataclass(frozen=True, slots=True)
class Redeemed:
    """Let in: the path to go to, and the secret to be known by.

    ``session`` is empty for a phone that was known already; ``person`` is the number of who made
    the code, 0 for nobody, or where it was used before.
    """

    path: str
    session: str = ""
    person: int = 0


class Pairing:
    """Codes, and the sessions they opened, in memory: when the program stops, all are gone.

    ``origin`` is the phones' address, without a slash at its end; ``clock`` counts seconds and
    never runs back. Threads may share one.
    """

    def __init__(self, origin: str, clock: Callable[[], float] = time.monotonic) -> None:
        self.origin = origin
        self._clock = clock
        self._secret = secrets.token_bytes(32)
        # marks of codes that have let a phone in, each until it would have ended anyway
        self._used: dict[str, float] = {}
        self._sessions: dict[str, float] = {}
        # in the order they came in: a phone keeps its number as long as it is known
        self._numbers: dict[str, int] = {}
        self._count = 0
        # Two phones that scan the same screen at once come in by two threads: one of them must
        # lose.
        self._lock = threading.Lock()

    def new_code(self, path: str, seconds: float = TICKET_S, person: int = 0) -> str:
        """Return an address that lets one phone in, once and within ``seconds``, to a page of ours.

        ``person``: the number of whose phone it is to be, 0 for nobody's. However many are made,
        none makes another worthless.
        """
        until = int((self._clock() + seconds) * 1000).to_bytes(_UNTIL, "big")
        whose = person.to_bytes(_PERSON, "big")
        signed = secrets.token_bytes(_NONCE) + until + whose + path.encode()
        # 144 bits of signature: not to be guessed, and still a QR code that a screen shows well
        token = base64.urlsafe_b64encode(self._sign(signed) + signed).rstrip(b"=").decode()
        return f"{self.origin}/phone/in/{token}"

    def redeem(self, token: str, session: str = "") -> Redeemed | None:
        """Use a code up and say where to go; None where it is not, or no longer, valid.

        A phone that is known by ``session`` may come by its old one again, and uses up none but one
        that makes it somebody's.
        """
        read = self._read(token)
        if read is None:
            return None
        path, until, person = read
        with self._lock:
            self._forget()
            # Before "used": browsers repeat a request by themselves, and a phone that just came
            # in by this code must not be turned away.
            fresh_code = digest_of(token) not in self._used
            if self._knows(session):
                if person and fresh_code:
                    self._used[digest_of(token)] = until
                return Redeemed(path, person=person if fresh_code else 0)
            if not fresh_code:
                return None
            self._used[digest_of(token)] = until
            if len(self._sessions) >= MOST_SESSIONS:
                # Dicts keep the order of insertion, so the first is the oldest.
                oldest = next(iter(self._sessions))
                del self._sessions[oldest], self._numbers[oldest]
            # A new secret, never the code: that was on a screen for all to see.
            fresh = secrets.token_urlsafe(32)
            self._count += 1
            self._sessions[digest_of(fresh)] = self._clock() + SESSION_S
            self._numbers[digest_of(fresh)] = self._count
            return Redeemed(path, fresh, person)

    def is_paired(self, session: str) -> bool:
        """Whether this secret was given out and is not 12 hours old yet."""
        with self._lock:
            return self._knows(session)

    def label(self, session: str) -> str:
        """What a phone that was let in is called here, ``Phone 2``; empty where it is none."""
        with self._lock:
            known = self._knows(session)
            return f"Phone {self._numbers[digest_of(session)]}" if known else ""

    def _read(self, token: str) -> tuple[str, float, int] | None:
        """Where a code leads, until when (s), whose it is; None where it is none or has ended."""
        try:
            raw = base64.b64decode(token + "=" * (-len(token) % 4), b"-_", validate=True)
        except (binascii.Error, ValueError):
            return None
        # written another way it would be another code with the same signature
        if base64.urlsafe_b64encode(raw).rstrip(b"=").decode() != token:
            return None
        signature, signed = raw[:_SIGNATURE], raw[_SIGNATURE:]
        if not hmac.compare_digest(signature, self._sign(signed)):
            return None
        until = int.from_bytes(signed[_NONCE : _NONCE + _UNTIL], "big") / 1000
        whose = int.from_bytes(signed[_NONCE + _UNTIL : _HEAD], "big")
        return (signed[_HEAD:].decode(), until, whose) if until > self._clock() else None

    def _sign(self, signed: bytes) -> bytes:
        return hmac.digest(self._secret, signed, "sha256")[:_SIGNATURE]

    def _knows(self, session: str) -> bool:
        return bool(session) and self._sessions.get(digest_of(session), 0.0) > self._clock()

    def _forget(self) -> None:
        now = self._clock()
        self._used = {mark: until for mark, until in self._used.items() if until > now}
        self._sessions = {mark: until for mark, until in self._sessions.items() if until > now}
        self._numbers = {mark: self._numbers[mark] for mark in self._sessions}


def session_of(headers: Headers) -> str:
    """The secret a phone is known by; empty where it brings none."""
    return cookie_in(headers, COOKIE)


def cookie_in(headers: Headers, name: str) -> str:
    """A cookie of a request; empty where there is none of that name."""
    try:
        # A header that no browser would write is a stranger's, and no reason to fail.
        cookie = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return cookie.value if cookie else ""
