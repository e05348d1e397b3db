"""Phones in the workshop's network: trusting its root, coming in by a code.

And who is turned away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
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
from counterpoise.web.network.pairing import COOKIE, SESSION_S, session_of
from counterpoise.web.network.patience import Patience
from counterpoise.web.network.signing import device_of, keep_session
from counterpoise.web.network.whoami import person_of
from counterpoise.web.render import SCRIPTS, STYLES, page
from counterpoise.workshop.jobs.settings import Settings

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["phone"])

_IN = "/phone/in/"
# What a phone needs before it is let in; none of it says anything of a job.
_OPEN = frozenset({"/mark.svg", "/root.crt", *(f"/{name}" for name in (*STYLES, *SCRIPTS))})
Token = Annotated[str, Path(max_length=100)]
STRANGER = (
    "This phone has not been let in",
    (
        "Scan the code that the workshop's computer shows on the page Record a spin, or in its"
        " terminal."
    ),
)


@dataclass(frozen=True, slots=True)
class Code:
    """A code that lets one phone in: the address, and its QR code (SVG) as a data address."""

    address: str
    picture: str


def phone_access(request: Request) -> PhoneAccess | None:
    """How phones reach these pages; None where they cannot."""
    phones: PhoneAccess | None = getattr(request.app.state, "phones", None)
    return phones


def code_for(request: Request, path: str) -> Code | None:
    """A fresh code that leads a phone to a page; None where no phone can come, or a phone asks."""
    phones = phone_access(request)
    # A phone that could make codes could let in others; only who stands at the computer may.
    if phones is None or request.app.state.gated:
        return None
    person = person_of(request)
    # the phone is then theirs who made the code
    address = phones.pairing.new_code(path, person=person.number if person else 0)
    return Code(address, picture(address))


@pages.get("/phone", include_in_schema=False)
def phone_page(request: Request, workshop: WorkshopDep) -> Response:
    """Tell how a phone comes to trust these pages and how it forgets them. Raises StoreError."""
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
    """How a phone comes to trust these pages, and how it forgets them.

    With the fingerprint (SHA-256) of the root; empty where the pages were started without phones.
    """
    return phone_sheet(phone_access(request))


@pages.get("/root.crt", include_in_schema=False)
def root_file(request: Request) -> Response:
    """Send the root certificate (DER). Raises NotFoundError where no phone can come."""
    phones = phone_access(request)
    if phones is None:
        raise NotFoundError(
            "There is no root certificate: the pages were started without --phone",
            remedy="Stop the pages and start them with: counterpoise serve --phone",
        )
    # The ending and the media type below are what makes phones offer to install it.
    named = {"content-disposition": 'attachment; filename="workshop-root.crt"'}
    return Response(
        phones.identity.root_der, media_type="application/x-x509-ca-cert", headers=named
    )


@pages.get("/phone/in/{token}", include_in_schema=False)
def come_in(request: Request, workshop: WorkshopDep, token: Token) -> Response:
    """Let a phone in by its code, once, and lead it on.

    A problem (403) where the code is used up or too old, (429) where wrong ones came from the same
    address again and again. A right code lets in whatever came from its address before: colleagues
    may share one.
    """
    phones = phone_access(request)
    admitted = (
        phones.pairing.redeem(token, session_of(Headers(scope=request.scope))) if phones else None
    )
    if admitted is None:
        if phones is not None and (wait := _slowed(phones.patience, request)):
            return wait
        what = "This code has been used, or is too old"
        return refuse(
            request.scope, 403, what, "Reload the page that showed it and scan the new one."
        )
    answer = RedirectResponse(admitted.path, 303)
    people = workshop.people
    if admitted.person and (owner := people.get(admitted.person)).active:
        keep_session(request.scope, answer, people.sign_in(owner, device_of(request)))
    # Empty for a phone that was known: its secret stays as it is, and so does its end.
    if admitted.session:
        answer.set_cookie(
            COOKIE,
            admitted.session,
            max_age=int(SESSION_S),
            path="/",
            secure=True,
            httponly=True,
            # Not strict: the phone comes from its camera's application, which counts as another
            # site, and a strict cookie would not be sent along at the next hop.
            samesite="lax",
        )
    return answer


def _slowed(patience: Patience, request: Request) -> Response | None:
    """Count a wrong code against its address; the answer to wait, where it has to."""
    address = request.client.host if request.client else ""
    wait_s = patience.wait_s(address)
    patience.failed(address)
    if not wait_s:
        return None
    answer = refuse(
        request.scope,
        429,
        "Too many wrong codes came from this address",
        f"Wait {wait_s:.0f} seconds, then scan a new code.",
    )
    answer.headers["retry-after"] = f"{wait_s:.0f}"
    return answer


class PairedOnly:
    """Turns away (401) whoever was not let in.

    Only the way in, the root and the looks of the pages are open.
    """

    def __init__(self, app: ASGIApp, phones: PhoneAccess) -> None:
        self.app, self.phones = app, phones

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here (401)."""
        known = (
            # The server's own start and end come from nobody.
            scope["type"] == "lifespan"
            or scope.get("path", "") in _OPEN
            # The ticket itself is checked by the route.
            or scope.get("path", "").startswith(_IN)
        )
        if not known:
            known = self.phones.pairing.is_paired(session_of(Headers(scope=scope)))
        answer: ASGIApp = self.app if known else refuse(scope, 401, *STRANGER)
        await answer(scope, receive, send)


def trusting(
    phones: PhoneAccess, settings: Callable[[], Settings]
) -> Callable[[Request], Response]:
    """The page over plain HTTP: the root, how to trust it, and how to forget it."""

    # The settings are read at each request: the workshop's name may have changed since the start.
    def trust_page(request: Request) -> Response:
        return page(request, "workshop/trust.html", settings=settings(), sheet=phone_sheet(phones))

    return trust_page
