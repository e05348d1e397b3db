"""A request that writes, as it came: its key, what tells it from others, and its form."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass

from fastapi import Request
from starlette.datastructures import FormData, UploadFile

from counterpoise.errors import InputError
from counterpoise.web.form_marks import KEY, SHOWN_AT

HEADER = "idempotency-key"
# What an entry would be checked against, and what the form itself carries: not what is said.
_MARKS = frozenset({KEY, SHOWN_AT, "last"})
_PLAIN_KEY = re.compile(r"[ -~]{1,100}")


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent. ``key`` is empty where none came; ``digest`` is that of address and content.

    ``form`` is None for JSON; ``shown_at`` the address of the page the form stands on, or empty.
    """

    key: str
    digest: str
    form: FormData | None = None
    shown_at: str = ""


async def read_sent(request: Request) -> Sent:
    """Read a request that writes, once for all who need it.

    Raises InputError for a key that is none, HTTPException (400) for a form that cannot be read.
    """
    if request.url.path.startswith("/api"):
        key = _plain(request.headers.get(HEADER, "").strip('"'), "Idempotency-Key")
        # Without a key nothing is compared, and a stream need not be read here.
        body = await request.body() if key else b""
        return Sent(key, _digest(request, body))
    # As many fields and files as :func:`counterpoise.web.forms.posted` takes: that one gets the
    # same form again.
    form = await request.form(max_fields=400, max_files=40)
    said = []
    for name, value in form.multi_items():
        if name not in _MARKS and not (isinstance(value, UploadFile) and not value.filename):
            said.append((name, await _text_of(value)))
    # Sorted, and without what was left empty: a form that was filled in again says the same.
    content = repr(sorted(pair for pair in said if pair[1])).encode()
    shown_at = _local(_text(form, SHOWN_AT))
    request.state.shown_at = shown_at
    return Sent(_plain(_text(form, KEY), KEY), _digest(request, content), form, shown_at)


def _digest(request: Request, content: bytes) -> str:
    address = f"{request.method} {request.url.path}?{request.url.query}\n".encode()
    return hashlib.sha256(address + content).hexdigest()


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


async def _text_of(value: UploadFile | str) -> str:
    if isinstance(value, str):
        return value.strip()
    data = await value.read()
    await value.seek(0)
    return hashlib.sha256(data).hexdigest()


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
