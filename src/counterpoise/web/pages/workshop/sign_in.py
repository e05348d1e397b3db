"""Signing in and out by name and PIN; guessing is slowed by name and by address."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse
from pydantic import BaseModel, ConfigDict, Field

from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.errors import Problem, answer
from counterpoise.web.forms import Posted
from counterpoise.web.network.patience import FREE, Patience
from counterpoise.web.network.signing import device_of, drop_session, keep_session, secret_of
from counterpoise.web.network.whoami import person_of
from counterpoise.web.pages.workshop.looks import back_from
from counterpoise.web.render import page
from counterpoise.workshop.people.records import LONGEST, Person, key_of
from counterpoise.workshop.people.secret import LONGEST as LONGEST_SECRET
from counterpoise.workshop.services.workshop import Workshop

# Not written once under a key: what is kept with a key would be a digest of six digits.
pages = APIRouter()
api = APIRouter(prefix="/api", tags=["people"])

# Of an address more are free than of a name: colleagues may share one.
FREE_OF_ADDRESS = 20
_WRONG = Problem(
    what="This name and this PIN do not belong together",
    field="secret",
    remedy="Type both once more. A forgotten PIN is renewed by an owner, or at the computer.",
)


class SignInIn(BaseModel):
    """Who it is, and the PIN or passphrase."""

    model_config = ConfigDict(extra="forbid")

    name: Annotated[str, Field(max_length=200)]
    secret: Annotated[str, Field(max_length=LONGEST_SECRET)]


@dataclass(frozen=True, slots=True)
class SignedInAs:
    """Who is signed in, with what they may do; ``name`` is empty where nobody is.

    ``needed``: whether anybody has to sign in here at all.
    """

    name: str
    role: str
    may: tuple[str, ...]
    needed: bool


@pages.get("/sign-in", include_in_schema=False)
def sign_in_page(request: Request, workshop: WorkshopDep, back: str = "") -> Response:
    """Ask who it is. Raises StoreError."""
    return _asked(request, workshop, back)


def _asked(
    request: Request, workshop: Workshop, back: str, name: str = "", problem: Problem | None = None,
    status: int = 200,
) -> Response:  # fmt: skip
    return page(
        request,
        "workshop/sign_in.html",
        status=status,
        settings=workshop.settings(),
        person=person_of(request),
        needed=workshop.people.any(),
        back=back,
        name=name,
        problem=problem,
        longest=LONGEST,
        longest_secret=LONGEST_SECRET,
    )


@api.get("/sign-in")
def signed_in(request: Request, workshop: WorkshopDep) -> SignedInAs:
    """Who is signed in, and whether anybody has to."""
    return _answer_for(workshop, person_of(request))


def _answer_for(workshop: Workshop, person: Person | None) -> SignedInAs:
    rights = workshop.people.allowed(person) if person else ()
    name, role = (person.name, str(person.role)) if person else ("", "")
    return SignedInAs(name, role, tuple(sorted(rights)), workshop.people.any())


@pages.post("/sign-in", include_in_schema=False)
def sign_in_form(request: Request, workshop: WorkshopDep, form: Posted) -> Response:
    """Sign in and lead on; the page again (401) where it is wrong, (429) where it is too soon."""
    name = form.text("name")
    tried = _tried(request, workshop, name, form.as_typed("secret"))
    if isinstance(tried, Problem):
        status = 401 if tried is _WRONG else 429
        return _asked(request, workshop, form.text("back"), name, tried, status)
    done = back_from(form)
    _begin(request, workshop, tried, done)
    return done


@api.post("/sign-in", response_model=SignedInAs, responses={429: {"model": Problem}})
def sign_in(request: Request, workshop: WorkshopDep, sent: SignInIn) -> Response:
    """Sign in: the session is a cookie. (401) where it is wrong, (429) where it is too soon."""
    tried = _tried(request, workshop, sent.name, sent.secret)
    if isinstance(tried, Problem):
        return answer(request, 401 if tried is _WRONG else 429, tried)
    answered = _answer_for(workshop, tried)
    done = JSONResponse(
        {"name": answered.name, "role": answered.role, "may": answered.may, "needed": True}
    )
    _begin(request, workshop, tried, done)
    return done


def _begin(request: Request, workshop: Workshop, person: Person, done: Response) -> None:
    # the one before is over: a browser is one person at a time
    workshop.people.sign_out(secret_of(request.scope))
    keep_session(request.scope, done, workshop.people.sign_in(person, device_of(request)))


def _tried(request: Request, workshop: Workshop, name: str, secret: str) -> Person | Problem:
    """Who it is; else what is wrong. While somebody has to wait nothing is compared."""
    patience: Patience = request.app.state.patience
    counted = _counted(request, workshop, name)
    wait_s = max(patience.wait_s(key) for key in counted)
    if wait_s:
        return Problem(
            what="Too many wrong tries came before this one",
            remedy=f"Wait {wait_s:.0f} seconds, then try again.",
        )
    # counted before it is compared: many at once must not be many tries for one
    for key, free in counted.items():
        patience.failed(key, free)
    person = workshop.people.checked(name, secret[:LONGEST_SECRET])
    if person is None:
        return _WRONG
    for key in counted:
        # only this one try of the address's: whoever has a PIN could guess for ever between
        patience.forgiven(key) if key[0] == "address" else patience.succeeded(key)
    return person


def _counted(request: Request, workshop: Workshop, name: str) -> dict[tuple[str, str], int]:
    """What a failure is counted against, each with how many are free."""
    known, secret = key_of(name[:LONGEST]), secret_of(request.scope)
    # Whoever was in on this browser waits for nobody else's guesses at their name, nor for those
    # from behind the same address.
    if workshop.people.knows_device(secret, name):
        return {("browser", secret): FREE}
    address = request.client.host if request.client else ""
    return {("name", known): FREE, ("address", address): FREE_OF_ADDRESS}


@pages.post("/sign-out", include_in_schema=False)
def sign_out_form(request: Request, workshop: WorkshopDep) -> Response:
    """End this browser's session and lead to the sign-in."""
    workshop.people.sign_out(secret_of(request.scope))
    done = RedirectResponse("/sign-in", 303)
    drop_session(request.scope, done)
    return done


@api.post("/sign-out", response_model=SignedInAs)
def sign_out(request: Request, workshop: WorkshopDep) -> Response:
    """End this session."""
    workshop.people.sign_out(secret_of(request.scope))
    done = JSONResponse({"name": "", "role": "", "may": [], "needed": workshop.people.any()})
    drop_session(request.scope, done)
    return done
