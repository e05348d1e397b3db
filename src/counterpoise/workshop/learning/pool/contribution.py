"""What a workshop gives to a pool: counts by figure, signed, and nothing that names a job.

The file holds a public key, a revision, a quarter, and two whole numbers by family and place of a
figure. Counts are multiples of five, rounded by chance: no file says that there was one such job.
"""

from __future__ import annotations

import hmac
import json
import re
from base64 import b64decode, b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from hashlib import blake2b
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from counterpoise.errors import InputError
from counterpoise.learning.pooling import STEP

FORMAT = "counterpoise pool 1"
FIELDS = ("format", "workshop", "revision", "quarter", "left", "families", "id", "signature")
# Cases of a figure below which it is withheld altogether.
LEAST_CASES = 5
MOST_CASES = 1_000_000
# a file of all shipped families has some hundred kilobytes
MOST_BYTES = 4_000_000
_PLACE = re.compile(
    r"faults\.\w{1,60}\.prior|repairs\.\w{1,60}\.cures\.[\w.:-]{1,80}"
    r"|checks\.\w{1,60}\.(under\.[\w.:-]{1,80}|otherwise\.\w{1,60})"
)
_QUARTER = re.compile(r"20\d\d-Q[1-4]")

Counts = tuple[int, int]


@dataclass(frozen=True)
class Contribution:
    """Counts (yes, of) by family and place; ``left``: the workshop has taken its share out.

    ``workshop`` is its public key in hexadecimal, which says nothing of who it is.
    """

    workshop: str
    revision: int
    quarter: str
    left: bool
    families: Mapping[str, Mapping[str, Counts]]
    signature: str = ""

    @property
    def signed_part(self) -> bytes:
        """What is signed: the same bytes for the same content, whatever the order it came in."""
        body = {
            "format": FORMAT, "workshop": self.workshop, "revision": self.revision,
            "quarter": self.quarter, "left": self.left,
            "families": {f: {p: list(c) for p, c in at.items()} for f, at in self.families.items()},
        }  # fmt: skip
        return json.dumps(body, sort_keys=True, separators=(",", ":")).encode()

    @property
    def id(self) -> str:
        """Digest of what is signed."""
        return blake2b(self.signed_part, digest_size=16).hexdigest()

    def to_json(self) -> dict[str, Any]:
        """As it is written to a file."""
        body: dict[str, Any] = json.loads(self.signed_part)
        return body | {"id": self.id, "signature": self.signature}

    def signed(self, key: Ed25519PrivateKey) -> Contribution:
        """The same, signed."""
        return replace(self, signature=b64encode(key.sign(self.signed_part)).decode())


def public_name(key: Ed25519PrivateKey) -> str:
    """What a workshop is called in a pool."""
    return key.public_key().public_bytes_raw().hex()


def rounded(yes: float, of: float, key: Ed25519PrivateKey, place: str) -> Counts | None:
    """Both counts as multiples of five; None where there are too few to say anything.

    Up or down by chance, so that over many workshops nothing is lost. The chance is drawn of the
    key and the place: whoever gives again does not give a second draw.
    """
    if of < LEAST_CASES:
        return None
    # the first count is cut to the second: both may be rounded apart
    cases = _by_chance(of, key, f"{place}|of")
    return min(_by_chance(yes, key, f"{place}|yes"), cases), cases


def _by_chance(count: float, key: Ed25519PrivateKey, what: str) -> int:
    draw = hmac.digest(key.private_bytes_raw(), what.encode(), "sha256")
    share = int.from_bytes(draw[:6]) / 2**48
    whole, rest = divmod(max(count, 0.0), STEP)
    return STEP * (int(whole) + (share < rest / STEP))


def read_contributions(text: str) -> list[Contribution]:
    """The contributions in a file: one, or a list of them. Raises InputError for any that is bad.

    What has a field more than it should is refused: it might say who came.
    """
    if len(text) > MOST_BYTES * 50:
        raise InputError("The file is larger than any pool", field="file")
    try:
        body = json.loads(text)
    except ValueError as error:
        raise InputError(f"The file is no JSON: {error}", field="file") from error
    return [_read(each) for each in (body if isinstance(body, list) else [body])]


def _read(body: object) -> Contribution:
    if not isinstance(body, dict) or body.get("format") != FORMAT:
        raise InputError(
            f"This is no contribution: its format is not {FORMAT!r}",
            field="format",
            remedy="'counterpoise pool give FILE' writes one",
        )
    if unknown := set(body) ^ set(FIELDS):
        raise InputError(
            f"The field {min(unknown)!r} is missing or does not belong there", field=min(unknown)
        )
    given = Contribution(
        _matching(body, "workshop", re.compile(r"[0-9a-f]{64}")),
        _whole(body["revision"], "revision", 1),
        _matching(body, "quarter", _QUARTER),
        body["left"] is True,
        _families(body["families"]),
        str(body["signature"]),
    )
    if body["left"] not in {True, False} or (given.left and given.families):
        raise InputError("left: a workshop that left gives no counts", field="left")
    # before the signature: a torn file is a likelier story than a forged one
    if given.id != body["id"]:
        raise InputError(
            "The file was changed or damaged: its digest is another than it says",
            field="id",
            remedy="Ask the workshop for it again",
        )
    check_signature(given)
    return given


def check_signature(given: Contribution) -> None:
    """Raise InputError where the signature is not that of the workshop named."""
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(given.workshop))
    try:
        key.verify(b64decode(given.signature, validate=True), given.signed_part)
    except (InvalidSignature, ValueError) as error:
        raise InputError(
            "The signature is not that of the workshop it names",
            field="signature",
            remedy="Ask the workshop for it again",
        ) from error


def _families(body: object) -> dict[str, dict[str, Counts]]:
    if not isinstance(body, dict):
        raise InputError("families: counts by family are needed", field="families")
    families: dict[str, dict[str, Counts]] = {}
    for family, places in body.items():
        if not re.fullmatch(r"[a-z][a-z0-9_-]{0,79}", family) or not isinstance(places, dict):
            raise InputError(f"families: {family[:80]!r} is no family", field="families")
        families[family] = {place: _counts(place, pair) for place, pair in places.items()}
    return families


def _counts(place: str, pair: object) -> Counts:
    if not _PLACE.fullmatch(place):
        raise InputError(f"{place[:120]!r} is no place of a figure that is pooled", field="place")
    if not isinstance(pair, list) or len(pair) != 2:
        raise InputError(f"{place}: two counts are needed", field=place)
    of = _whole(pair[1], place, STEP)
    yes = _whole(pair[0], place, 0)
    if yes > of or yes % STEP or of % STEP:
        raise InputError(
            f"{place}: {yes} of {of} are no counts in fives, the first no larger", field=place
        )
    return yes, of


def _whole(value: object, name: str, least: int) -> int:
    if type(value) is not int or not least <= value <= MOST_CASES:
        raise InputError(f"{name}: {value!r} is no number from {least} on", field=name)
    return value


def _matching(body: Mapping[str, object], name: str, pattern: re.Pattern[str]) -> str:
    value = body[name]
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise InputError(f"{name}: {str(value)[:80]!r} cannot be", field=name)
    return value


def merged(contributions: Iterable[Contribution]) -> dict[str, Contribution]:
    """By workshop the newest of each: in whatever order and however often they come, the same.

    A workshop that left stays as that, so that an older file of it does not bring it back.
    """
    newest: dict[str, Contribution] = {}
    for each in contributions:
        before = newest.get(each.workshop)
        # two files under one revision are a mistake; which of them holds must not hang on the order
        if before is None or (before.revision, before.id) < (each.revision, each.id):
            newest[each.workshop] = each
    return dict(sorted(newest.items()))


__all__ = ["Contribution", "Counts", "merged", "public_name", "read_contributions", "rounded"]
