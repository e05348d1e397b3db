"""What stands between the network and the pages.

Who may ask, how much may be sent, what a browser may do with the answer.
"""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A few photos of a phone, or a spin of some minutes as CSV; the body is held in memory.
MOST_BYTES = 20 * 2**20
# RFC 9110, 9.2.1: these change nothing here, so a link from elsewhere may lead to them.
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
# Names and addresses of customers stand in the pages; a shared browser must not keep them.
_NEVER_STORED = "no-store"
HEADERS = {
    # No script but the pages' own files: even if a customer's words got past the escaping they
    # could not run. QR codes are data addresses, hence img-src.
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:;"
        " form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # "no-referrer" would make browsers send "Origin: null" with our own forms
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    # The recording page alone opens the motion sensor again, for itself.
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class BodyTooLargeError(HTTPException):
    """More was sent than is taken; raised while the body is read."""

    def __init__(self) -> None:
        super().__init__(413)


def loopback(host: str) -> bool:
    """True for names that can only mean this machine."""
    return host in {"localhost", "127.0.0.1", "::1"}


def local_network(host: str) -> bool:
    """True for this machine's own name and for plain addresses.

    Any other name could be made by a stranger's name server to point here (DNS rebinding).
    """
    # Asked each time: a laptop is renamed, or gets its name from the network it joins.
    own = socket.gethostname().lower()
    if loopback(host) or host in {own, f"{own}.local"}:
        return True
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _name_of(host: str) -> str:
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def refusal(
    method: str, headers: Headers, allowed: Callable[[str], bool]
) -> tuple[int, str, str] | None:
    """Why a request is refused before it is read: (status, what, remedy); None where it may pass.

    ``allowed`` says whether a host name, lower case and without its port, is one of ours.
    """
    host = headers.get("host", "")
    # The Host header is the one thing that a page elsewhere cannot choose for a browser: with DNS
    # rebinding it still holds the stranger's name.
    if not allowed(_name_of(host)):
        return (
            400,
            "This address is not one of this workshop's pages",
            "Open the address that the terminal shows.",
        )
    # Instead of a token in every form: the browser itself says where a form came from.
    if method not in _SAFE_METHODS and not _own_page(headers, host):
        return (
            403,
            "This was sent from another site, so nothing was changed",
            "Open the page here and send it again.",
        )
    # Refused by what it says of itself before a byte is read; one that says nothing, or lies, is
    # counted as it comes.
    length = headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > MOST_BYTES:
        return 413, *BODY_TOO_LARGE
    return None


BODY_TOO_LARGE = (
    f"That is more than the {MOST_BYTES // 2**20} MB taken at once",
    "Send a smaller photo, or fewer at a time.",
)


def _own_page(headers: Headers, host: str) -> bool:
    """Browsers tell where a form was sent from; programs without a browser send neither header."""
    # Browsers say where a form was sent from; programs without a browser send neither header, and
    # have no user whose cookies could be abused.
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc == host
    # "none": typed into the address line, or a bookmark.
    return headers.get("sec-fetch-site", "none") in {"same-origin", "none"}


class RequestLimits:
    """Refuses foreign hosts, foreign forms and floods of bytes; adds the protective headers."""

    def __init__(
        self, app: ASGIApp, allowed: Callable[[str], bool], refuse: Callable[..., ASGIApp]
    ) -> None:
        self.app, self.allowed, self.refuse = app, allowed, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here (400, 403, 413)."""
        # "lifespan", the start and end of the server. There are no web sockets.
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = refusal(scope["method"], Headers(scope=scope), self.allowed)
        answer = self.app if refused is None else self.refuse(scope, *refused)
        await answer(scope, _counted(receive), _with_headers(send))


def _counted(receive: Receive) -> Receive:
    """Stop a body that says less of itself than it is."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BYTES:
            raise BodyTooLargeError
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            # setdefault: style sheets and photos say otherwise, and the record page has its own
            # policy.
            headers.setdefault("cache-control", _NEVER_STORED)
            # The rest of the body is still on the line; kept open, it would be read as the next
            # request.
            if message["status"] == 413:
                headers["connection"] = "close"
        await send(message)

    return guarded
