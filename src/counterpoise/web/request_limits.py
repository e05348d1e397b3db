"""What stands between the network and the pages.

Who may ask, how much may be sent, what a browser may do with the answer.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
import time
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A few photos of a phone, or a spin of some minutes as CSV; the body is held in memory.
MOST_BYTES = 20 * 2**20
# Of all requests together: four as large as one may be. What is in memory at once is bounded by it.
MOST_BYTES_AT_ONCE = 4 * MOST_BYTES
# A phone behind two walls sends slowly, but it sends: the first half minute is for a bad line, then
# a kilobyte a second is asked for on the whole, and never a long silence.
SILENCE_S = 20.0
PATIENT_S = 30.0
LEAST_BYTES_S = 1024
# RFC 9110, 9.2.1: these change nothing here, so a link from elsewhere may lead to them.
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
# Names and addresses of customers stand in the pages; a shared browser must not keep them.
_NEVER_STORED = "no-store"
HEADERS = {
    # No script but the pages' own files: even if a customer's words got past the escaping they
    # could not run. QR codes are data addresses, hence img-src.
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self';"
        " img-src 'self' data:;"
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


class BodyTooSlowError(HTTPException):
    """What was sent came too slowly; raised while the body is read."""

    def __init__(self) -> None:
        super().__init__(408)


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
    if _announced(headers) > MOST_BYTES:
        return 413, *BODY_TOO_LARGE
    return None


def _announced(headers: Headers) -> int:
    """How many bytes a request says that it brings; as many as are taken where it says nothing."""
    length = headers.get("content-length", "0")
    if not length.isdecimal():
        return MOST_BYTES + 1
    return MOST_BYTES if "transfer-encoding" in headers else int(length)


BODY_TOO_LARGE = (
    f"That is more than the {MOST_BYTES // 2**20} MB taken at once",
    "Send a smaller photo, or fewer at a time.",
)


def _own_page(headers: Headers, host: str) -> bool:
    """Browsers tell where a form was sent from; programs without a browser send neither header."""
    # Browsers say where a form was sent from; programs without a browser send neither header, and
    # have no user whose cookies could be abused.
    # A browser of old may send the page's address (Referer) and no origin; where there are both,
    # both must be ours.
    named = [headers[name] for name in ("origin", "referer") if name in headers]
    if not all(_place_of(each) == host for each in named):
        return False
    # "none": typed into the address line, or a bookmark. Where the origin is ours, the browser
    # has said enough.
    if "origin" in headers:
        return True
    return headers.get("sec-fetch-site", "none") in {"same-origin", "none"}


def _place_of(address: str) -> str:
    try:
        return urlsplit(address).netloc
    except ValueError:
        return ""


TOO_MUCH_AT_ONCE = (
    "Others are sending large files just now, so this was not taken",
    "Send it again in a moment.",
)


class RequestLimits:
    """Refuses foreign hosts, foreign forms and floods of bytes; adds the protective headers."""

    # of all applications of this process: they share one memory
    taking = 0

    def __init__(
        self, app: ASGIApp, allowed: Callable[[str], bool], refuse: Callable[..., ASGIApp]
    ) -> None:
        self.app, self.allowed, self.refuse = app, allowed, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here (400, 403, 413, 503)."""
        # "lifespan", the start and end of the server. There are no web sockets.
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refused = refusal(scope["method"], headers, self.allowed)
        brought = 0 if refused else _announced(headers)
        if refused is None and brought and RequestLimits.taking + brought > MOST_BYTES_AT_ONCE:
            refused, brought = (503, *TOO_MUCH_AT_ONCE), 0
        answer = self.app if refused is None else self.refuse(scope, *refused)
        secure = scope.get("scheme") == "https"
        # one event loop answers all of them, so that nothing comes between reading and adding
        RequestLimits.taking += brought
        try:
            await answer(scope, _Body(receive).take, _with_headers(send, secure=secure))
        finally:
            RequestLimits.taking -= brought


class _Body:
    """A body as it comes: stopped where it is more than it says of itself, or comes too slowly."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._taken, self._whole = 0, False
        self._begun = time.monotonic()

    async def take(self) -> Message:
        """The next piece. Raises BodyTooLargeError, BodyTooSlowError."""
        # behind the body there is only the word that the other side is gone, hours later
        if self._whole:
            return await self._receive()
        # each kilobyte that came buys another second
        end = self._begun + PATIENT_S + self._taken / LEAST_BYTES_S
        try:
            wait = min(SILENCE_S, end - time.monotonic())
            message = await asyncio.wait_for(self._receive(), max(wait, 0.0))
        except TimeoutError as error:
            raise BodyTooSlowError from error
        self._taken += len(message.get("body", b""))
        self._whole = not message.get("more_body", False)
        if self._taken > MOST_BYTES:
            raise BodyTooLargeError
        return message


def _with_headers(send: Send, *, secure: bool) -> Send:
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
            if message["status"] in {408, 413}:
                headers["connection"] = "close"
            if secure:
                message["headers"] = [_protected(*each) for each in message["headers"]]
        await send(message)

    return guarded


def _protected(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    """A header as it is; a cookie for protected lines only, whoever set it."""
    if name.lower() != b"set-cookie" or b"; secure" in value.lower():
        return name, value
    return name, value + b"; Secure"
