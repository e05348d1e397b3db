"""What a job takes from the shelf and puts on it, and whether its owner agrees to used parts."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal

from fastapi import APIRouter, Response
from pydantic import Field

from counterpoise.errors import InputError
from counterpoise.money.order import Quality
from counterpoise.report.views.job import JobView, Recorded, job_view, recorded
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.pages.job.estimate import chosen_kinds
from counterpoise.web.schemas import Sent
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.fields import Ident, Short
from counterpoise.workshop.parts.stock import Lot
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["stock"])


class ShelveIn(Sent):
    """Pieces off a job's machine are put on the shelf: how many of each, and where."""

    # A hundred of one piece off one machine is a slip of the finger.
    pieces: Annotated[dict[Ident, Annotated[int, Field(ge=1, le=100)]], Field(max_length=60)]
    place: Short = ""


class WorkIn(Sent):
    """Reserve what the estimate of this work takes from the shelf, or let go of it.

    ``repairs`` names the work, empty: what is done and advised. ``release`` lets go of all that is
    reserved for the job.
    """

    what: Literal["reserve", "release"]
    repairs: Annotated[tuple[Ident, ...], Field(max_length=40)] = ()
    used: bool = False
    parts: Annotated[dict[Ident, Quality], Field(max_length=60)] = Field(default_factory=dict)


class AgreementIn(Sent):
    """The owner agrees to used parts, or no longer does."""

    used_parts: bool


@pages.post("/jobs/{number}/parts", include_in_schema=False)
def shelve_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put pieces off the machine on the shelf. Raises NotFoundError, InputError."""
    # A ticked piece without a number is one piece.
    counts = {item: form.whole(f"count.{item}") or 1 for item in form.texts("piece")}
    sent = parse(ShelveIn, pieces=counts, place=form.text("place"), by=form.text("by"))
    workshop.stock.put_on_shelf(number, sent.pieces, sent.place, sent.hand)
    return redirect("/stock", sent.by)


@api.post("/jobs/{number}/parts", status_code=201)
def shelve_pieces(workshop: WorkshopDep, number: JobNumber, sent: ShelveIn) -> list[Lot]:
    """Put pieces off the job's machine on the shelf as used parts; one lot of each item.

    A fault (422) where a piece is none of this machine.
    """
    return list(workshop.stock.put_on_shelf(number, sent.pieces, sent.place, sent.hand))


@pages.post("/jobs/{number}/shelf", include_in_schema=False)
def work_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Reserve what the work takes from the shelf, or let go of it.

    Raises NotFoundError, InputError where nothing of it lies there.
    """
    sent = parse(
        WorkIn,
        what=form.text("what"),
        repairs=form.texts("repair"),
        used=form.text("used") == "true",
        parts=chosen_kinds(form.texts("part")),
        by=form.text("by"),
    )
    _work(workshop, job_view(workshop, number), sent)
    return redirect(f"/jobs/{number}/estimate", sent.by)


@api.post("/jobs/{number}/shelf", status_code=201)
def work(workshop: WorkshopDep, number: JobNumber, sent: WorkIn) -> list[Lot]:
    """Reserve what the estimate of the work takes from the shelf, or let go of all reserved.

    The lots held for the job, empty after ``release``; a fault (422) where nothing of the work lies
    on the shelf.
    """
    _work(workshop, job_view(workshop, number), sent)
    return list(workshop.stock.held_for(number))


def _work(workshop: Workshop, view: JobView, sent: WorkIn) -> None:
    if sent.what == "release":
        workshop.stock.release(view.job.number, sent.hand)
        return
    costing = view.snapshot.costing(sent.repairs, Terms(sent.used, kinds=tuple(sent.parts.items())))
    # Nothing new reserved is a success where it is held already: the button may be pressed twice.
    if not workshop.stock.reserve(
        view.job.number, costing, sent.hand
    ) and not workshop.stock.held_for(view.job.number):
        raise InputError(
            "nothing of this work lies on the shelf",
            field="parts",
            remedy="Choose a part from the shelf",
        )


@pages.post("/jobs/{number}/agreement", include_in_schema=False)
def agreement_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put down whether the owner agrees to used parts. Raises NotFoundError, ConflictError."""
    sent = parse(AgreementIn, used_parts=form.text("used_parts") == "yes", **form.sender())
    _agree(workshop, number, sent)
    return redirect(f"/jobs/{number}/estimate", sent.by)


@api.post("/jobs/{number}/agreement", status_code=201)
def agreement(workshop: WorkshopDep, number: JobNumber, sent: AgreementIn) -> Recorded:
    """Put down whether the owner agrees to used parts.

    Conflict (409) where the job has moved on since ``expected_last``.
    """
    return recorded(workshop, number, _agree(workshop, number, sent))


def _agree(workshop: Workshop, number: int, sent: AgreementIn) -> int:
    # A further intake entry, which goes before the first: entries are never changed.
    intake = replace(workshop.jobs.get(number).intake, used_parts=sent.used_parts)
    return workshop.jobs.record(
        number, intake, by=sent.hand, expected_last=sent.expected_last
    ).number
