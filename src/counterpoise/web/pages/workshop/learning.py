"""What was learned of closed jobs: in sight, frozen, undone, taken back."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.views.learned.view import LearningView, learning_view
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import Sent
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import Ident, Short
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["learning"])
Judge = Annotated[bool, Query(description="Say whether it is any good, too; takes a moment.")]


class LearningIn(Sent):
    """What to do with the learning of a family; ``place`` names a figure, or is empty."""

    family: Ident
    what: Literal["freeze", "go_on", "put_off", "undo", "take_back", "give_back"]
    place: Short = ""


@pages.get("/learning", include_in_schema=False)
def learning_page(
    request: Request, workshop: WorkshopDep, family: Ident = "", judge: Judge = False
) -> Response:
    """Show what was learned of a kind of machine. Raises InputError for an unknown one."""
    view = learning_view(workshop, workshop.families.usual(family), judged=judge)
    return page(
        request,
        "workshop/learning.html",
        known=view,
        judge=judge,
        families=list(workshop.families.values()),
        settings=workshop.settings(),
    )


@api.get("/learning")
def learning(workshop: WorkshopDep, family: Ident = "", judge: Judge = False) -> LearningView:
    """What was learned of a kind of machine: each figure as written and as it is in use."""
    return learning_view(workshop, workshop.families.usual(family), judged=judge)


@pages.post("/learning", include_in_schema=False)
def decide_page(workshop: WorkshopDep, form: Posted) -> Response:
    """Freeze, go on, put off, undo, take a figure back or give it back. Raises InputError."""
    sent = parse(
        LearningIn, **{name: form.text(name) for name in ("family", "what", "place", "by")}
    )
    _decide(workshop, sent)
    return redirect(f"/learning?family={sent.family}", sent.by)


@api.post("/learning", status_code=201)
def decide(workshop: WorkshopDep, sent: LearningIn) -> LearningView:
    """Freeze, go on, put off, undo, take a figure back or give it back; then what is in use."""
    _decide(workshop, sent)
    return learning_view(workshop, sent.family)


def _decide(workshop: Workshop, sent: LearningIn) -> None:
    service = workshop.learning
    of_place = {"take_back": service.take_back, "give_back": service.give_back}
    whole = {
        "freeze": service.freeze, "go_on": service.go_on,
        "put_off": service.put_off, "undo": service.undo,
    }  # fmt: skip
    if sent.what in of_place:
        of_place[sent.what](sent.family, sent.place, sent.by)
    else:
        whole[sent.what](sent.family, sent.by)
