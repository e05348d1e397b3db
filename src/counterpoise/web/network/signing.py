"""Who is signed in, and whether they may do what they ask: before any page sees the request."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse

from counterpoise.errors import StoreError
from counterpoise.web.network.masking import masked_json, without_sums
from counterpoise.web.network.pairing import cookie_in
from counterpoise.web.network.rights import needed
from counterpoise.workshop.people.acting import acting
from counterpoise.workshop.people.records import REMEMBERED
from counterpoise.workshop.people.roles import Right, rights_of, who_may

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from counterpoise.workshop.people.records import Person
    from counterpoise.workshop.services.workshop import Workshop

# Over TLS the name itself makes browsers insist on a protected line and on this very host.
_PROTECTED, _PLAIN = "__Host-session", "session"
UNREADABLE = (
    "The store could not be read",
    "Nothing was changed. Check the disk, then try again.",
)
STRANGER = ("Nobody is signed in here", "Sign in at /sign-in with your name and your PIN.")
_ASK = "Ask one of them, or sign in as somebody else at /sign-in."
# What stands in the header that browsers send of themselves; the most special first.
_BROWSERS = (
    ("Firefox/", "Firefox"), ("Edg", "Edge"), ("Chrome/", "Chrome"), ("CriOS/", "Chrome"),
    ("FxiOS/", "Firefox"), ("Safari/", "Safari"),
)  # fmt: skip
_SYSTEMS = (
    ("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"), ("Windows", "Windows"),
    ("Mac OS X", "Mac"), ("Linux", "Linux"),
)  # fmt: skip
_ADDRESS = 600  # letters of an address to come back to


def _cookie_name(scope: Scope) -> str:
    return _PROTECTED if scope.get("scheme") == "https" else _PLAIN


def secret_of(scope: Scope) -> str:
    """The secret of the session that a request brings; empty where it brings none."""
    return cookie_in(Headers(scope=scope), _cookie_name(scope))


def keep_session(scope: Scope, answer: Response, secret: str) -> None:
    """Have the browser keep a session's secret; how long it opens the pages the store says."""
    answer.set_cookie(
        _cookie_name(scope),
        secret,
        # longer than the session: the browser is then known as one where this person was in
        max_age=int(REMEMBERED.total_seconds()),
        path="/",
        secure=scope.get("scheme") == "https",
        httponly=True,
        # Not strict: a phone comes from its camera's application, which counts as another site.
        samesite="lax",
    )


def device_of(request: Request) -> str:
    """What somebody signs in on, as its browser says, and from which address."""
    said = request.headers.get("user-agent", "")
    browser = next((name for mark, name in _BROWSERS if mark in said), "a program")
    system = next((f" on {name}" for mark, name in _SYSTEMS if mark in said), "")
    address = request.client.host if request.client else ""
    return f"{browser}{system}, {address}".rstrip(", ")[:80]


def drop_session(scope: Scope, answer: Response) -> None:
    """Have the browser forget its secret."""
    secure = scope.get("scheme") == "https"
    answer.delete_cookie(_cookie_name(scope), path="/", secure=secure, httponly=True)


@dataclass(frozen=True, slots=True)
class _Asker:
    """Who asks and what they may; ``currency`` (ISO 4217) is that of the sums they may not see."""

    person: Person | None
    may: frozenset[Right]
    bench_sees_money: bool = True
    currency: str = ""


class SignedIn:
    """Lets in who is signed in and may; where nobody works here by name, everybody as before.

    ``refuse`` makes an answer of a scope, a status and two sentences.
    """

    def __init__(
        self, app: ASGIApp, workshop: Callable[[], Workshop | None], refuse: Callable[..., ASGIApp]
    ) -> None:
        self.app, self._workshop, self._refuse = app, workshop, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on as somebody's, or answer it here (303, 401, 403, 503)."""
        right = needed(scope["method"], scope["path"]) if scope["type"] == "http" else None
        workshop = self._workshop()
        # looks and pictures cost no look into the store; without one there is nothing to guard
        if workshop is None or (right is None and not _asks_who(scope)):
            await self.app(scope, receive, send)
            return
        # asked at each request and not kept: who was put out is out with the next
        try:
            asker = await run_in_threadpool(_asker, workshop, secret_of(scope))
        except StoreError:
            # the pages say in words what is wrong with the store; nothing of it can be shown
            await self._refuse(scope, 503, *UNREADABLE)(scope, receive, send)
            return
        if right is None or right in asker.may:
            await self._pass(scope, receive, send, asker)
        elif asker.person is None:
            await _to_sign_in(scope, self._refuse)(scope, receive, send)
        else:
            words = who_may(right, bench_sees_money=asker.bench_sees_money)
            await self._refuse(scope, 403, words, _ASK)(scope, receive, send)

    async def _pass(self, scope: Scope, receive: Receive, send: Send, asker: _Asker) -> None:
        state = scope.setdefault("state", {})
        state["person"], state["may"] = asker.person, asker.may
        if asker.person is not None and Right.MONEY not in asker.may:
            send = _masking(send, asker.currency)
        with acting(asker.person.name if asker.person else ""):
            await self.app(scope, receive, send)


def _asks_who(scope: Scope) -> bool:
    """Whether an open address shows who is signed in."""
    return scope["type"] == "http" and scope["path"].removeprefix("/api") in {
        "/sign-in",
        "/sign-out",
    }


def _asker(workshop: Workshop, secret: str) -> _Asker:
    """Who a session's secret stands for. Raises StoreError."""
    person = workshop.people.who(secret)
    if person is None:
        # where nobody works here by name, whoever comes is the workshop
        return _Asker(None, frozenset() if workshop.people.any() else frozenset(Right))
    settings = workshop.settings()
    money = settings.bench_sees_money
    may = rights_of(person.role, bench_sees_money=money)
    return _Asker(person, may, money, settings.currency)


def _to_sign_in(scope: Scope, refuse: Callable[..., ASGIApp]) -> ASGIApp:
    """A page leads to the sign-in and back; a program, and whoever sent something, is told."""
    if scope["method"] != "GET" or scope["path"].startswith("/api"):
        return refuse(scope, 401, *STRANGER)
    query = scope.get("query_string", b"").decode("latin-1")
    address = scope["path"] + (f"?{query}" if query else "")
    return RedirectResponse(f"/sign-in?back={quote(address[:_ADDRESS], safe='/')}", 303)


def _masking(send: Send, currency: str) -> Send:
    """Send pages and JSON without sums of money; all else has none, or asks for the right."""
    # the length of a page is known when all of it is there
    begun: list[Message] = []
    pieces: list[bytes] = []

    async def masked(message: Message) -> None:
        if message["type"] == "http.response.start":
            kind = Headers(raw=message["headers"]).get("content-type", "")
            if kind.startswith(("text/html", "application/json")):
                begun.append(message)
                return
        if not begun or message["type"] != "http.response.body":
            await send(message)
            return
        pieces.append(message.get("body", b""))
        if message.get("more_body"):
            return
        start, body = begun.pop(), b"".join(pieces)
        headers = MutableHeaders(raw=start["headers"])
        if headers["content-type"].startswith("text/html"):
            body = without_sums(body.decode(), currency).encode()
        elif body:
            body = masked_json(body, currency)
        headers["content-length"] = str(len(body))
        await send({**start, "headers": headers.raw})
        await send({"type": "http.response.body", "body": body})

    return masked
