"""Who works here and where they are signed in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from counterpoise.errors import InputError, NotFoundError
from counterpoise.report.words.people import ROLE_WORDS, Permission, permissions
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.errors import refuse
from counterpoise.web.forms import Posted, redirect
from counterpoise.web.network.signing import secret_of
from counterpoise.web.network.whoami import may, person_of
from counterpoise.web.render import page
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.people.records import Person, Session
from counterpoise.workshop.people.roles import Right
from counterpoise.workshop.people.secret import LONGEST, PHRASE_LETTERS, PIN_DIGITS, digest_of
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["people"])

PersonNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]
SessionId = Annotated[str, Path(max_length=64, pattern=r"^[0-9a-f]{1,64}$")]
Secret = Annotated[str, Field(max_length=LONGEST)]
_AT_THE_COMPUTER = (
    "The first person is put down at the workshop's computer",
    "Open this page there, or run: counterpoise people add NAME",
)


class PersonIn(BaseModel):
    """Somebody who is to work here: name, role (owner, bench, counter), PIN or passphrase."""

    model_config = ConfigDict(extra="forbid")

    name: Annotated[str, Field(max_length=200)]
    role: Annotated[str, Field(max_length=40)] = "bench"
    secret: Secret


class PersonChange(BaseModel):
    """What somebody is from now on; ``secret`` is a new one, empty for the old one."""

    model_config = ConfigDict(extra="forbid")

    role: Annotated[str, Field(max_length=40)]
    active: bool = True
    secret: Secret = ""


class OwnSecret(BaseModel):
    """One's own new PIN or passphrase, with the old one."""

    model_config = ConfigDict(extra="forbid")

    old: Secret
    secret: Secret


@dataclass(frozen=True, slots=True)
class OpenSession:
    """Where somebody is signed in; ``here``: in the very browser that asks. Times are UTC."""

    id: str
    name: str
    device: str
    begun: str
    last_seen: str
    here: bool


@dataclass(frozen=True, slots=True)
class PeopleSheet:
    """Who works here, where they are signed in, and what each role may do.

    Whoever may not say who works here sees themselves alone.
    """

    people: tuple[Person, ...]
    sessions: tuple[OpenSession, ...]
    permissions: tuple[Permission, ...]


def _sheet(request: Request, workshop: Workshop) -> PeopleSheet:
    person, known = person_of(request), workshop.people
    # where nobody signs in everybody may see that nobody stands here
    alone = person is not None and not may(request, Right.PEOPLE)
    mine = person.number if person and alone else 0
    here = digest_of(secret_of(request.scope))
    return PeopleSheet(
        people=tuple(each for each in known.all() if mine in {0, each.number}),
        sessions=tuple(_open(each, here) for each in known.sessions(mine)),
        permissions=permissions(bench_sees_money=known.bench_sees_money),
    )


def _open(session: Session, here: str) -> OpenSession:
    return OpenSession(
        session.id,
        session.name,
        session.device,
        session.begun,
        session.last_seen,
        session.id == here,
    )


@pages.get("/people", include_in_schema=False)
def people_page(request: Request, workshop: WorkshopDep) -> Response:
    """Show who works here and where they are signed in. Raises StoreError."""
    return page(
        request,
        "workshop/people.html",
        settings=workshop.settings(),
        sheet=_sheet(request, workshop),
        me=person_of(request),
        manages=may(request, Right.PEOPLE),
        roles=ROLE_WORDS,
        longest=LONGEST,
        digits=PIN_DIGITS,
        letters=PHRASE_LETTERS,
    )


@api.get("/people")
def people(request: Request, workshop: WorkshopDep) -> PeopleSheet:
    """Who works here, where they are signed in, what each role may do."""
    return _sheet(request, workshop)


@pages.post("/people", include_in_schema=False)
def add_page(request: Request, workshop: WorkshopDep, form: Posted) -> Response:
    """Add somebody; the first is an owner. Raises InputError naming the field."""
    if _from_afar(request, workshop):
        return refuse(request.scope, 403, *_AT_THE_COMPUTER)
    first = not workshop.people.any()
    workshop.people.add(form.text("name"), form.text("role") or "owner", form.as_typed("secret"))
    # Led to sign in, not signed in: no secret of a session is kept with the key of a form.
    # the first one made everybody else a stranger, and themselves too
    return redirect("/sign-in?back=/people" if first else "/people")


@api.post("/people", status_code=201, response_model=Person)
def add(request: Request, workshop: WorkshopDep, sent: PersonIn) -> Person | Response:
    """Add somebody; the first is an owner. A fault (422) names the field."""
    if _from_afar(request, workshop):
        return refuse(request.scope, 403, *_AT_THE_COMPUTER)
    return workshop.people.add(sent.name, sent.role, sent.secret)


def _from_afar(request: Request, workshop: Workshop) -> bool:
    """Whether the first owner would be made by a phone: any that was let in could be it."""
    return bool(request.app.state.gated) and not workshop.people.any()


@pages.post("/people/own", include_in_schema=False)
def own_page(request: Request, workshop: WorkshopDep, form: Posted) -> Response:
    """Change one's own PIN. Raises InputError naming the field."""
    _renew_own(request, workshop, form.as_typed("old"), form.as_typed("secret"))
    return redirect("/people")


@api.post("/people/own")
def own(request: Request, workshop: WorkshopDep, sent: OwnSecret) -> PeopleSheet:
    """Change one's own PIN or passphrase; all other sessions end. A fault (422) names the field."""
    _renew_own(request, workshop, sent.old, sent.secret)
    return _sheet(request, workshop)


def _renew_own(request: Request, workshop: Workshop, old: str, secret: str) -> None:
    person, patience = _me(request), request.app.state.patience
    key = ("own", person.number)
    if wait_s := patience.wait_s(key):
        raise InputError(f"old: wait {wait_s:.0f} seconds before you try again", field="old")
    # a browser left alone at the bench is not a way to guess
    patience.failed(key)
    if workshop.people.checked(person.name, old) is None:
        raise InputError(
            "old: this is not your PIN as it was", field="old", remedy="An owner can renew it"
        )
    patience.succeeded(key)
    workshop.people.renew(person.number, secret, keep=secret_of(request.scope))


@pages.post("/people/{number}", include_in_schema=False)
def change_page(workshop: WorkshopDep, number: PersonNumber, form: Posted) -> Response:
    """Change what somebody is, or their PIN. Raises NotFoundError, InputError."""
    active, secret = form.text("active") == "yes", form.as_typed("secret")
    workshop.people.change(number, form.text("role"), active=active, secret=secret)
    return redirect("/people")


@api.post("/people/{number}")
def change(workshop: WorkshopDep, number: PersonNumber, sent: PersonChange) -> Person:
    """Change what somebody is, or their PIN; who is not active is signed out at once.

    A fault (422) where no owner would be left; not found (404).
    """
    return workshop.people.change(number, sent.role, active=sent.active, secret=sent.secret)


@pages.post("/people/sessions/{session}", include_in_schema=False)
def end_page(request: Request, workshop: WorkshopDep, session: SessionId) -> Response:
    """End a session: one's own, for an owner anybody's. Raises NotFoundError."""
    workshop.people.end(session, _me(request))
    return redirect("/people")


@api.post("/people/sessions/{session}")
def end(request: Request, workshop: WorkshopDep, session: SessionId) -> PeopleSheet:
    """End a session by its id: one's own, for an owner anybody's; not found (404)."""
    workshop.people.end(session, _me(request))
    return _sheet(request, workshop)


def _me(request: Request) -> Person:
    """Whoever is signed in. Raises NotFoundError where nobody is."""
    person = person_of(request)
    if person is None:
        raise NotFoundError(
            "Nobody signs in here", remedy="Put the first person down on the page /people."
        )
    return person
