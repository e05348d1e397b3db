"""The bench page: what now, why, what else it could be, what it is worth.

Findings, repairs and proof spins are put down here too.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from starlette.background import BackgroundTask

from counterpoise.report.views.bench.care import care
from counterpoise.report.views.bench.layout import asked_only, layout
from counterpoise.report.views.job import (
    JobAnswer,
    JobView,
    Recorded,
    job_answer,
    job_view,
    recorded,
)
from counterpoise.report.views.measures.forms import kind_for_check
from counterpoise.report.views.measures.handling import lifting_lines
from counterpoise.report.views.step_choices import StepGroup, step_groups
from counterpoise.report.views.stock import pieces_for
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.render import page
from counterpoise.web.schemas import FindingIn, ProofIn, RepairIn, SentEntry, StepName
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.diagnosis.assessment import Step
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import Finding, Proof, RepairDone
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["bench"])
# The largest number of the store's columns; a larger one gets a plain 422, not an error of the
# database.
JobNumber = Annotated[int, Path(ge=1, le=2**31 - 1)]
StepId = Annotated[str, Path(max_length=80)]


def add_entry(workshop: Workshop, number: int, sent: SentEntry) -> int:
    """Add an entry to the job and return its number.

    Raises NotFoundError, InputError where the catalog does not know it, ConflictError where another
    was written since.
    """
    # Of all that is sent, a repair alone takes pieces; they move in the entry's own transaction.
    taken = [(piece.lot, piece.count) for piece in sent.taken] if isinstance(sent, RepairIn) else []
    return workshop.jobs.record(
        number, sent.body(), by=sent.hand, expected_last=sent.expected_last, taken=taken
    ).number


def kept_photos(workshop: Workshop, number: int, form: Form) -> list[str]:
    """Keep the photos sent with a form and return their ids; empty where none came.

    Raises NotFoundError where there is no such job, InputError where a file is no photo.
    """
    # Before the photos: those of a job that does not exist would lie in the store for ever, named
    # by nothing.
    workshop.jobs.get(number)
    return [workshop.photos.add(photo.file.read()) for photo in form.files("photos")]


def _bench(request: Request, view: JobView, picked: Step | None) -> Response:
    step = picked or view.assessment.next
    # A check that a measurement by hand answers leads there, with a form for the raw readings.
    measure = kind_for_check(step.id, view.family) if step and step.kind == "check" else ""
    lifting = lifting_lines(step, view.family, view.figures)
    pieces = pieces_for(view, step.id) if step and step.kind == "repair" else ()
    cared = care(view, step, lifting)
    warnings = len(view.assessment.warnings)
    drawn = step is not None and not asked_only(step, view.family)
    response = page(
        request,
        "job/bench.html",
        view=view,
        picked=picked,
        measure=measure,
        care=cared,
        laid=layout(step, cared, saved=view.undo is not None, warnings=warnings, drawn=drawn),
        drawn=drawn,
        pieces=pieces,
    )
    # once the page is sent: the one after the answer is then there at once
    response.background = BackgroundTask(view.snapshot.look_ahead)
    return response


@pages.get("/jobs/{number}", include_in_schema=False)
def bench_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show what to do now, why, what else it could be, what it is worth. Raises NotFoundError."""
    return _bench(request, job_view(workshop, number), None)


@pages.get("/jobs/{number}/ahead", include_in_schema=False)
def ahead_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show the bench page with what each answer leads to. Raises NotFoundError."""
    return _bench(request, job_view(workshop, number, ahead=True), None)


@api.get("/jobs/{number}")
def job(workshop: WorkshopDep, number: JobNumber) -> JobAnswer:
    """What to do now, why, what else it could be, what it is worth (minor units).

    What each answer leads to is planned too, which takes as long again for each. Not found (404)
    where there is no such job.
    """
    return job_answer(job_view(workshop, number, ahead=True))


@pages.get("/jobs/{number}/steps", include_in_schema=False)
def steps_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show every other check and repair. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(request, "job/steps.html", view=view, groups=step_groups(view))


@api.get("/jobs/{number}/steps")
def steps(workshop: WorkshopDep, number: JobNumber) -> list[StepGroup]:
    """Every check and repair that fits this machine, in groups, with the minutes each takes."""
    return step_groups(job_view(workshop, number))


@pages.get("/jobs/{number}/steps/{kind}/{step_id}", include_in_schema=False)
def step_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, kind: StepName, step_id: StepId,
    acknowledged: bool = False,
) -> Response:  # fmt: skip
    """Show the bench page with a step picked by hand.

    One that must not be run is shown whole once its caution was ``acknowledged``. Raises
    NotFoundError where the job or the step is unknown.
    """
    view = job_view(workshop, number)
    build = StepBuilder.of(view.situation, view.supply)
    picked = build.picked(kind, step_id, acknowledged=acknowledged)
    return _bench(request, view, picked)


@api.get("/jobs/{number}/steps/{kind}/{step_id}")
def step(
    workshop: WorkshopDep, number: JobNumber, kind: StepName, step_id: StepId,
    acknowledged: bool = False,
) -> JobAnswer:  # fmt: skip
    """The job with a step picked by hand; not found (404) where job or step is unknown.

    Where the machine must not be run for it, what is to be done is withheld until
    ``acknowledged``, and whatever is put down of it needs that too.
    """
    view = job_view(workshop, number)
    build = StepBuilder.of(view.situation, view.supply)
    return job_answer(view, build.picked(kind, step_id, acknowledged=acknowledged))


@pages.post("/jobs/{number}/findings", include_in_schema=False)
def finding_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put a finding down, with its photos.

    Raises NotFoundError, InputError naming the field, ConflictError where the form was stale.
    """
    # an answer that was ticked goes before a number left in the field beside it
    ticked = {"reading": None} if form.text("outcome") else {}
    photos = kept_photos(workshop, number, form)
    sent = parse(FindingIn, **form.entry(Finding, photos=photos, **ticked))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/findings", status_code=201)
def finding(workshop: WorkshopDep, number: JobNumber, sent: FindingIn) -> Recorded:
    """Put a finding down: an outcome of the check, could_not_tell, cannot_reach, or a reading.

    Conflict (409) where the job has moved on since ``expected_last``; a fault (422) names its
    field.
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))


@pages.post("/jobs/{number}/repairs", include_in_schema=False)
def repair_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put a repair down as done, with its minutes, photos and the pieces it took.

    Raises NotFoundError, InputError where a piece is not there, ConflictError.
    """
    photos = kept_photos(workshop, number, form)
    taken = [_taking(text) for text in form.texts("taken")]
    sent = parse(RepairIn, **form.entry(RepairDone, photos=photos, taken=taken))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}", sent.by)


def _taking(text: str) -> dict[str, str]:
    """``12:1``: one piece of lot 12."""
    # Left as texts: the model says which of them is no number.
    lot, _, count = text.partition(":")
    return {"lot": lot, "count": count}


@api.post("/jobs/{number}/repairs", status_code=201)
def repair(workshop: WorkshopDep, number: JobNumber, sent: RepairIn) -> Recorded:
    """Put a repair down as done, with its minutes and the pieces it took from stock.

    Nothing is put down where a piece is not there (422) or the job has moved on (409).
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))


@pages.post("/jobs/{number}/proofs", include_in_schema=False)
def proof_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put down how the proof spin went. Raises NotFoundError, InputError, ConflictError."""
    sent = parse(ProofIn, **form.entry(Proof))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/proofs", status_code=201)
def proof(workshop: WorkshopDep, number: JobNumber, sent: ProofIn) -> Recorded:
    """Put down how the proof spin went and the minutes it took."""
    return recorded(workshop, number, add_entry(workshop, number, sent))
