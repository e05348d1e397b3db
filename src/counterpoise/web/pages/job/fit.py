"""The machine in motion fitted to a recording of the job.

Shown first, then put down as figures of the machine.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.figures.chart import FILE_PX
from counterpoise.report.views.fit import FitAnswer, figures_entry, fit_answer, fit_figure
from counterpoise.report.views.job import Recorded, job_view, recorded
from counterpoise.report.views.machine_fit import FitRequest
from counterpoise.report.words.numbers import read_number
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.pages.job.recording import FIGURE_POLICY, RecordingId
from counterpoise.web.render import page
from counterpoise.web.schemas import FitIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import Ident
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["recording"])
Typed = Annotated[str, Query(max_length=24)]
Named = Annotated[list[Ident], Query(default_factory=list, max_length=12)]


def fit_request(free: Named, load: Typed = "", unbalance: Typed = "") -> FitRequest:
    """What was typed: wet load and thing out of balance in kg, None where they are not known.

    Raises InputError naming the field.
    """
    # Texts and not numbers: read here, so that "0,4" works in the address line as it does in a
    # form.
    kg = {"load": (load, 14.0), "unbalance": (unbalance, 3.0)}
    read = {
        name: read_number(text, name, 0.02 * (name == "unbalance"), most) if text.strip() else None
        for name, (text, most) in kg.items()
    }
    return FitRequest(read["load"], read["unbalance"], tuple(dict.fromkeys(free)))


@pages.get("/jobs/{number}/recording/{recording}/fit", include_in_schema=False)
def fit_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, recording: RecordingId,
    free: Named, load: Typed = "", unbalance: Typed = "",
) -> Response:  # fmt: skip
    """Show the machine fitted to a recording.

    Raises NotFoundError, InputError where the recording tells too little.
    """
    asked = fit_request(free, load, unbalance)
    answer = fit_answer(workshop, number, recording, asked)
    return page(
        request,
        "job/fit.html",
        view=job_view(workshop, number),
        told=answer,
        asked=asked,
        figure=fit_figure(workshop, number, recording, asked),
    )


@api.get("/jobs/{number}/recording/{recording}/fit")
def fit(
    workshop: WorkshopDep,
    number: JobNumber,
    recording: RecordingId,
    free: Named,
    load: Typed = "",
    unbalance: Typed = "",
) -> FitAnswer:
    """The machine fitted to a recording: figures with their errors, and how well the shake agrees.

    ``load`` and ``unbalance`` are in kg, empty where not weighed. A fault (422) where the recording
    tells too little.
    """
    return fit_answer(workshop, number, recording, fit_request(free, load, unbalance))


@pages.post("/jobs/{number}/recording/{recording}/fit", include_in_schema=False)
def put_page(
    workshop: WorkshopDep, number: JobNumber, recording: RecordingId, form: Posted
) -> Response:
    """Put the fitted figures down. Raises NotFoundError, InputError, ConflictError."""
    sent = parse(
        FitIn,
        load_kg=form.number("load", 0, 14),
        unbalance_kg=form.number("unbalance", 0.02, 3),
        free=form.texts("free"),
        note=form.text("note"),
        **form.sender(),
    )
    add_entry(workshop, number, recording, sent)
    return redirect(f"/jobs/{number}/machine", sent.by)


@api.post("/jobs/{number}/recording/{recording}/fit", status_code=201)
def put(workshop: WorkshopDep, number: JobNumber, recording: RecordingId, sent: FitIn) -> Recorded:
    """Put the figures down which the recording tells, in their units, each with its error.

    Nothing is put down where it tells none (422) or the job has moved on (409).
    """
    return recorded(workshop, number, add_entry(workshop, number, recording, sent))


@pages.get("/jobs/{number}/recording/{recording}/fit.svg", include_in_schema=False)
def drawn(
    workshop: WorkshopDep,
    number: JobNumber,
    recording: RecordingId,
    free: Named,
    load: Typed = "",
    unbalance: Typed = "",
) -> Response:
    """Draw the shake as recorded and as fitted (SVG). Raises NotFoundError, InputError."""
    asked = fit_request(free, load, unbalance)
    picture = fit_figure(workshop, number, recording, asked, FILE_PX)
    return Response(picture, media_type="image/svg+xml", headers=dict(FIGURE_POLICY))


def add_entry(workshop: Workshop, number: int, recording: str, sent: FitIn) -> int:
    """Fit, add the entry to the job and return its number.

    Raises NotFoundError, InputError, ConflictError where another was written since.
    """
    answer = fit_answer(
        workshop, number, recording, FitRequest(sent.load_kg, sent.unbalance_kg, sent.free)
    )
    entry = figures_entry(answer, sent.note)
    return workshop.jobs.record(
        number, entry, by=sent.hand, expected_last=sent.expected_last
    ).number
