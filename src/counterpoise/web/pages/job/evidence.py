"""The evidence page: every entry, what was taken back, notes and photos."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from counterpoise.errors import NotFoundError
from counterpoise.report.views.job import Recorded, job_view, recorded
from counterpoise.report.words.entry_lines import EntryLine
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber, add_entry, kept_photos
from counterpoise.web.render import page
from counterpoise.web.request_limits import MOST_BYTES
from counterpoise.web.schemas import NoteIn, RetractionIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.entries import Note, Retraction
from counterpoise.workshop.jobs.entry_json import photo_ids
from counterpoise.workshop.services.spin_evidence import AS_IT_CAME

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["evidence"])


@dataclass(frozen=True, slots=True)
class EvidenceAnswer:
    """Everything put down about a job, in order; ``last`` is the number of the last entry.

    An entry that was taken back still stands in it, marked.
    """

    number: int
    title: str
    last: int
    entries: tuple[EntryLine, ...]


class PhotoTaken(BaseModel):
    """A photo was kept; its id goes into ``photos`` of an entry."""

    photo: str


@pages.get("/jobs/{number}/evidence", include_in_schema=False)
def evidence_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show everything put down, with a form for notes. Raises NotFoundError."""
    return page(
        request,
        "job/evidence.html",
        view=job_view(workshop, number),
        most_mb=MOST_BYTES // 2**20,
        as_it_came=AS_IT_CAME,
    )


@api.get("/jobs/{number}/evidence")
def evidence(workshop: WorkshopDep, number: JobNumber) -> EvidenceAnswer:
    """Everything put down about a job, in order; not found (404) where there is no such job."""
    view = job_view(workshop, number)
    return EvidenceAnswer(number, view.title, view.last, view.lines)


@pages.post("/jobs/{number}/retractions", include_in_schema=False)
def retraction_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Take an entry back. Raises NotFoundError, InputError where it must stay, ConflictError."""
    sent = parse(RetractionIn, **form.entry(Retraction))
    add_entry(workshop, number, sent)
    return redirect(
        # Taking back is offered on two pages; each gets its reader back.
        f"/jobs/{number}" if form.text("back") == "bench" else f"/jobs/{number}/evidence"
    )


@api.post("/jobs/{number}/retractions", status_code=201)
def retraction(workshop: WorkshopDep, number: JobNumber, sent: RetractionIn) -> Recorded:
    """Take an entry back; nothing is removed, a further entry says so.

    A fault (422) where the entry must stay, as the intake must; conflict (409) where the job moved
    on.
    """
    return recorded(workshop, number, add_entry(workshop, number, sent))


@pages.post("/jobs/{number}/notes", include_in_schema=False)
def note_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Put a note down, with photos. Raises NotFoundError, InputError, ConflictError."""
    sent = parse(NoteIn, **form.entry(Note, photos=kept_photos(workshop, number, form)))
    add_entry(workshop, number, sent)
    return redirect(f"/jobs/{number}/evidence", sent.by)


@api.post("/jobs/{number}/notes", status_code=201)
def note(workshop: WorkshopDep, number: JobNumber, sent: NoteIn) -> Recorded:
    """Put a note down; photos are named by ids of ``POST /api/photos``."""
    return recorded(workshop, number, add_entry(workshop, number, sent))


@api.post(
    "/photos",
    status_code=201,
    # Read as raw bytes, which FastAPI cannot tell from the signature.
    openapi_extra={"requestBody": {"content": {"image/*": {}}, "required": True}},
)
async def add_photo(request: Request, workshop: WorkshopDep) -> PhotoTaken:
    """Keep a photo (the bytes of a JPEG, PNG or WebP file), without its metadata.

    A fault (422) where it is no photo, too large (413) above 20 MB.
    """
    # shrinking takes a moment of arithmetic, and waits its turn: not in the event loop
    data = await request.body()
    return PhotoTaken(photo=await run_in_threadpool(workshop.photos.add, data))


@pages.get("/jobs/{number}/photos/{photo}", include_in_schema=False)
def photo_file(workshop: WorkshopDep, number: JobNumber, photo: str) -> Response:
    """Send a photo (JPEG). Raises NotFoundError where the job has no such photo."""
    job = workshop.jobs.get(number)
    # also of an entry that was taken back: it still stands in the evidence
    if not any(photo in photo_ids(entry.body) for entry in job.entries):
        raise NotFoundError(
            f"Job {number} has no photo {photo}", remedy=f"Look at /jobs/{number}/evidence."
        )
    # The id is the digest of the bytes, so they can never change; private, for it may show a
    # kitchen.
    lasting = {"cache-control": "private, max-age=31536000, immutable"}
    return Response(workshop.photos.get(photo), media_type="image/jpeg", headers=lasting)
