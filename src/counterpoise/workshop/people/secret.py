"""PINs and passphrases: what is taken for one, and how it is kept (argon2id)."""

from __future__ import annotations

import hashlib
import threading
import unicodedata
from contextlib import contextmanager
from typing import TYPE_CHECKING

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from counterpoise.errors import InputError, StoreError

if TYPE_CHECKING:
    from collections.abc import Iterator

PIN_DIGITS = 6
PHRASE_LETTERS = 8
LONGEST = 200
_KEYS = "01234567890"
# Each takes 64 MiB for a moment: two at a time, the others wait.
_turns = threading.BoundedSemaphore(2)
_PATIENT_S = 20.0
_REMEDY = (
    f"Give {PIN_DIGITS} digits or more that are not in a row, or words of {PHRASE_LETTERS} letters"
    " or more"
)


def digest_of(secret: str) -> str:
    """What is kept of a random secret (SHA-256, hexadecimal): looked up, it tells no time.

    Not for what a person thinks up: that goes through :class:`Hasher`.
    """
    # random enough that a quick digest does; "replace": a header may hold half a letter, which is
    # no reason to fail
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def secret_from(text: str, name: str) -> str:
    """A PIN or passphrase as it is compared: composed letters (NFC). Raises InputError.

    ``name`` is whose it is to be.
    """
    # telephones and computers compose letters otherwise (RFC 8265 asks for the same)
    secret = unicodedata.normalize("NFC", text)
    least = PIN_DIGITS if secret.isdecimal() else PHRASE_LETTERS
    if len(secret) < least or len(secret) > LONGEST or not secret.strip():
        raise InputError("secret: this PIN or passphrase is too short or too long",
                         field="secret", remedy=_REMEDY)  # fmt: skip
    if _guessed_first(secret) or secret.casefold() == name.casefold():
        raise InputError("secret: this is what somebody would try first",
                         field="secret", remedy=_REMEDY)  # fmt: skip
    return secret


def _guessed_first(secret: str) -> bool:
    """One letter all over, or keys in a row, up or down."""
    return len(set(secret)) == 1 or secret in _KEYS or secret[::-1] in _KEYS


class Hasher:
    """Hashes and compares; two at a time. ``algorithm``: argon2id as RFC 9106 says for 64 MiB."""

    def __init__(self, algorithm: PasswordHasher | None = None) -> None:
        self._algorithm = algorithm or PasswordHasher()
        # compared where nobody has the name, so that an unknown one takes as long as a wrong PIN
        self._nobody: bytes | None = None

    def hashed(self, secret: str) -> bytes:
        """What is kept of a secret. Raises StoreError where too many wait."""
        with _turn():
            return self._algorithm.hash(secret).encode()

    def matches(self, kept: bytes | None, secret: str) -> bool:
        """Whether it is the secret that was kept; None: there is none, and it takes as long."""
        if kept is None:
            self._nobody = self._nobody or self.hashed("nobody's")
        text = unicodedata.normalize("NFC", secret)
        with _turn():
            try:
                same = self._algorithm.verify((kept or self._nobody or b"").decode(), text)
            except (VerificationError, InvalidHashError, UnicodeEncodeError):
                return False
        return same and kept is not None

    def is_old(self, kept: bytes) -> bool:
        """Whether it was hashed for less than what is asked today."""
        return self._algorithm.check_needs_rehash(kept.decode())


@contextmanager
def _turn() -> Iterator[None]:
    if not _turns.acquire(timeout=_PATIENT_S):
        raise StoreError("Many sign in at once", remedy="Try again in a moment")
    try:
        yield
    finally:
        _turns.release()
