"""Phones in the workshop's network: trusting its root, coming in by a code, and who is turned away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from fastapi.responses import RedirectResponse
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from counterpoise.errors import NotFoundError
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.errors import refuse
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.instructions import PhoneSheet, phone_sheet, picture
from counterpoise.web.network.pairing import SESSION_S
from counterpoise.web.render import SCRIPTS, STYLES, page
from counterpoise.workshop.jobs.settings import Settings

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["phone"])

COOKIE = "__Host-phone"  # the name makes browsers insist on a protected line and on this very host
_IN = "/phone/in/"
_OPEN = frozenset({"/mark.svg", "/root.crt", *(f"/{name}" for name in (*STYLES, *SCRIPTS))})
Token = Annotated[str, Path(max_length=100)]
STRANGER = (
    "This phone has not been let in",
    "Scan the code that the workshop's computer shows on the page Record a spin, or in its terminal.",
)


@dataclass(frozen=True, slots=True)
class Code:
    """A code that lets one phone in: the address, and its picture as a data address."""

    address: str
    picture: str


def phone_access(request: Request) -> PhoneAccess | None:
    """How phones reach these pages, where they can."""
    found: PhoneAccess | None = getattr(request.app.state, "phones", None)
    return found


def code_for(request: Request, path: str) -> Code | None:
    """A fresh code that leads a phone to a page; none where no phone can come, or where a phone asks."""
    phones = phone_access(request)
    if phones is None or request.app.state.gated:
        return None
    address = phones.pairing.new_code(path)
    return Code(address, picture(address))


@pages.get("/phone", include_in_schema=False)
def phone_page(request: Request, workshop: WorkshopDep) -> Response:
    """Tell how a phone comes to trust these pages and how it forgets them."""
    phones = phone_access(request)
    sheet = phone_sheet(phones)
    shown = picture(sheet.trust_address) if phones else ""
    code = code_for(request, "/jobs")
    return page(
        request,
        "workshop/phone.html",
        settings=workshop.settings(),
        sheet=sheet,
        shown=shown,
        code=code,
    )


@api.get("/phone")
def phone(request: Request) -> PhoneSheet:
    """How a phone comes to trust these pages, with the fingerprint of the root, and how it forgets them."""
    return phone_sheet(phone_access(request))


@pages.get("/root.crt", include_in_schema=False)
def root_file(request: Request) -> Response:
    """Send the root certificate."""
    phones = phone_access(request)
    if phones is None:
        raise NotFoundError("There is no root certificate: the pages were started without --phone")
    named = {"content-disposition": 'attachment; filename="workshop-root.crt"'}
    return Response(
        phones.identity.root_der, media_type="application/x-x509-ca-cert", headers=named
    )


@pages.get("/phone/in/{token}", include_in_schema=False)
def come_in(request: Request, token: Token) -> Response:
    """Let a phone in by its code, once, and lead it on."""
    phones = phone_access(request)
    admitted = (
        phones.pairing.redeem(token, session_of(Headers(scope=request.scope))) if phones else None
    )
    if admitted is None:
        what = "This code has been used, or is too old"
        return refuse(
            request.scope, 403, what, "Reload the page that showed it and scan the new one."
        )
    answer = RedirectResponse(admitted.path, 303)
    if admitted.session:
        answer.set_cookie(
            COOKIE,
            admitted.session,
            max_age=int(SESSION_S),
            path="/",
            secure=True,
            httponly=True,
            samesite="lax",
        )
    return answer


def session_of(headers: Headers) -> str:
    """The secret a phone is known by; empty where it brings none."""
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return cookie.value if cookie else ""


class PairedOnly:
    """Turns away whoever was not let in; only the way in, the root and the looks of the pages are open."""

    def __init__(self, app: ASGIApp, phones: PhoneAccess) -> None:
        self.app, self.phones = app, phones

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here."""
        known = (
            scope["type"] == "lifespan"
            or scope.get("path", "") in _OPEN
            or scope.get("path", "").startswith(_IN)
        )
        if not known:
            known = self.phones.pairing.is_paired(session_of(Headers(scope=scope)))
        answer: ASGIApp = self.app if known else refuse(scope, 401, *STRANGER)
        await answer(scope, receive, send)


def trusting(
    phones: PhoneAccess, settings: Callable[[], Settings]
) -> Callable[[Request], Response]:
    """The page over the plain line: the root, how to trust it, and how to forget it."""

    def trust_page(request: Request) -> Response:
        return page(request, "workshop/trust.html", settings=settings(), sheet=phone_sheet(phones))

    return trust_page
