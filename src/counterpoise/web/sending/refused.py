"""A refused form leads back to its page, with the fault at its field."""

from __future__ import annotations

from urllib.parse import urlsplit

from fastapi import Request, Response
from fastapi.responses import HTMLResponse
from starlette.types import Message

from counterpoise.errors import InputError
from counterpoise.web.sending.refilled import refilled
from counterpoise.web.sending.sent import SECRETS, Sent

# Of the request that was refused: what it was, not what it brought along.
_KEPT = ("type", "asgi", "http_version", "scheme", "server", "client", "root_path", "state")
_OF_THE_BODY = frozenset({b"content-length", b"content-type", b"transfer-encoding", b"origin"})


async def refused_page(request: Request, sent: Sent, error: InputError) -> Response | None:
    """The page of a form again (422), filled in as it was sent; None where it cannot be shown."""
    texts: dict[str, list[str]] = {}
    for name, value in (await request.form()).multi_items():
        # a secret goes into no page
        if isinstance(value, str) and name not in SECRETS:
            texts.setdefault(name, []).append(value)
    # A form of before, or a program's, does not say where it stands: mostly at its own address.
    for address in dict.fromkeys((sent.shown_at, request.url.path)):
        page = await _shown(request, address) if address else None
        again = refilled(page, request.url.path, texts, error) if page else None
        if again is not None:
            return HTMLResponse(again, 422)
    return None


async def _shown(request: Request, address: str) -> str | None:
    """A page of the workshop as whoever sent the form sees it, None where it is none."""
    parts = urlsplit(address)
    headers = [pair for pair in request.scope["headers"] if pair[0] not in _OF_THE_BODY]
    scope = {name: request.scope[name] for name in _KEPT if name in request.scope}
    scope |= {
        "method": "GET",
        "path": parts.path,
        "raw_path": parts.path.encode(),
        "query_string": parts.query.encode(),
        "headers": headers,
        "app": request.app,
    }
    messages: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Message) -> None:
        messages.append(message)

    # As if it had been asked for: the same checks of who may see it, and the same page.
    await request.app(scope, receive, send)
    status = messages[0].get("status") if messages else 0
    types = dict(messages[0].get("headers", ())) if messages else {}
    if status != 200 or not types.get(b"content-type", b"").startswith(b"text/html"):
        return None
    return b"".join(message.get("body", b"") for message in messages[1:]).decode()
