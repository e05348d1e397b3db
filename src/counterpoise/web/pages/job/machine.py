"""The figures of a job's own machine: shown with where each is from, put down by form or JSON."""

from __future__ import annotations

from typing import cast, get_args

from fastapi import APIRouter, Request, Response

from counterpoise.errors import InputError
from counterpoise.report.views.job import Recorded, job_view, recorded
from counterpoise.report.views.machine_figures import OwnFigures, own_figures, read_figures
from counterpoise.report.words.entry_lines import HOW_KNOWN
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber, add_entry
from counterpoise.web.render import page
from counterpoise.web.schemas import FiguresIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.choices import How, HowByHand
from counterpoise.workshop.jobs.entries import Figures

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["machine"])
# Ways like "fitted" are the program's own to say; nobody may claim them by hand.
BY_HAND = {how: HOW_KNOWN[how] for how in get_args(HowByHand)}


@pages.get("/jobs/{number}/machine", include_in_schema=False)
def machine_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show what is known of this very machine, and ask for more. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(
        request,
        "job/machine.html",
        view=view,
        told=own_figures(view.job, view.family),
        ways_known=BY_HAND,
    )


@api.get("/jobs/{number}/machine")
def machine(workshop: WorkshopDep, number: JobNumber) -> OwnFigures:
    """The figures of this very machine that are known, in their units, and those that could be.

    Not found (404) where there is no such job.
    """
    job = workshop.jobs.get(number)
    return own_figures(job, workshop.family(job.intake.family))


@pages.post("/jobs/{number}/machine", include_in_schema=False)
def figures_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put figures of the machine down.

    Raises NotFoundError, InputError naming the figure, ConflictError where the form was stale.
    """
    # Somebody's word is the weakest way to know a figure, so it is what silence means.
    how = form.text("how") or "told"
    # Checked before the figures: a form that was tampered with is no typing mistake.
    if how not in BY_HAND:
        raise InputError(f"how: {how[:40]} is no way to know it", field="how", remedy="Choose one.")
    # Typed texts by id; blank ones are figures nobody measured and are left out.
    read = read_figures(
        form.starting("figure."),
        workshop.jobs.family_of(number),
        cast("How", how),
        form.text("note"),
    )
    sent = parse(FiguresIn, **form.entry(Figures, values=dict(read.values), how=read.how))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}/machine", sent.by)


@api.post("/jobs/{number}/machine", status_code=201)
def figures(workshop: WorkshopDep, number: JobNumber, sent: FiguresIn) -> Recorded:
    """Put figures of the machine down; the latest of each holds.

    Take them back like any other entry. A fault (422) where a figure is unknown or beyond its
    limits, conflict (409) where the job has moved on.
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))
