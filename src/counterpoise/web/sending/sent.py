"""A request that writes, as it came: its key, what tells it from others, and its form."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fastapi import Request
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import InputError
from counterpoise.web.form_marks import KEY, SHOWN_AT

if TYPE_CHECKING:
    from hashlib import _Hash

HEADER = "idempotency-key"
# What an entry would be checked against, and what the form itself carries: not what is said.
_MARKS = frozenset({KEY, SHOWN_AT, "last"})
# A digest of six digits is soon guessed: of these nothing is kept.
SECRETS = frozenset({"secret", "old"})
_PLAIN_KEY = re.compile(r"[ -~]{1,100}")


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent. ``key`` is empty where none came; ``digest`` is that of address and content.

    ``by_form``: not as JSON; ``shown_at`` is the address of the page the form stands on, or empty.
    """

    key: str
    digest: str
    by_form: bool = False
    shown_at: str = ""


async def read_sent(request: Request) -> Sent:
    """Read a request that writes, once for all who need it.

    Raises InputError for a key that is none, HTTPException (400) for a form that cannot be read.
    """
    if request.url.path.startswith("/api"):
        key = _plain(request.headers.get(HEADER, "").strip('"'), "Idempotency-Key")
        # Without a key nothing is compared, and a stream need not be read here.
        digest = _address(request)
        if key:
            digest.update(_without_secrets(request.url.path, await request.body()))
        return Sent(key, digest.hexdigest())
    # As many fields and files as :func:`counterpoise.web.forms.posted` takes: that one gets the
    # same form again.
    form = await request.form(max_fields=400, max_files=40)
    shown_at = _local(_text(form, SHOWN_AT))
    request.state.shown_at = shown_at
    key = _plain(_text(form, KEY), KEY)
    return Sent(key, await _of_form(request, form), by_form=True, shown_at=shown_at)


async def _of_form(request: Request, form: FormData) -> str:
    digest = _address(request)
    # Sorted, and without what was left empty: a form that was filled in again says the same.
    for name in sorted(set(form) - _MARKS - SECRETS):
        for value in form.getlist(name):
            if isinstance(value, UploadFile) and not value.filename:
                continue
            text = value.strip().encode() if isinstance(value, str) else await _bytes_of(value)
            if text:
                # The length keeps what ends one field from starting the next.
                digest.update(f"\n{name} {len(text)} ".encode() + text)
    return digest.hexdigest()


def _without_secrets(path: str, body: bytes) -> bytes:
    """JSON without what is secret in it, where such may be sent; all else as it came."""
    if not path.startswith("/api/people"):
        return body
    try:
        said = json.loads(body)
    except ValueError:
        return b""
    if isinstance(said, dict):
        said = {name: value for name, value in said.items() if name not in SECRETS}
    return json.dumps(said, sort_keys=True).encode()


def _address(request: Request) -> _Hash:
    return hashlib.sha256(f"{request.method} {request.url.path}?{request.url.query}\n".encode())


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


async def _bytes_of(value: UploadFile) -> bytes:
    data = await value.read()
    await value.seek(0)
    return hashlib.sha256(data).digest()


def _plain(key: str, field: str) -> str:
    if key and not _PLAIN_KEY.fullmatch(key):
        raise InputError(
            "the key is longer than 100 characters, or has other than plain ones",
            field=field,
            remedy="Send 1 to 100 plain characters, a new key with everything new",
        )
    return key


def _local(address: str) -> str:
    """An address of these pages, empty for any other: it comes from outside like every field."""
    return address if re.fullmatch(r"/(?!/)[!-~]{0,600}", address) else ""
