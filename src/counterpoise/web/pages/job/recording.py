"""A recording of a spin: sent to a job, read, and put down.

It counts as a finding, as proof, or as what the machine did while it was sound.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Path, Query, Request, Response
from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool

from counterpoise.errors import InputError
from counterpoise.report.figures.chart import FILE_PX
from counterpoise.report.views.job import Recorded, job_view, recorded
from counterpoise.report.views.measures.forms import kinds_for
from counterpoise.report.views.phone_recording import file_steps, recording_cautions
from counterpoise.report.views.recording import (
    RecordingAnswer,
    cause_bar,
    recording_answer,
    recording_chart,
    recording_verdict,
)
from counterpoise.report.words.machine_words import run_words
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Form, Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.render import page
from counterpoise.web.request_limits import MOST_BYTES
from counterpoise.web.schemas import RecordingIn
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import LEAST_RPM, MOST_RPM, SpinRpm
from counterpoise.workshop.services.spin_evidence import Role, record_spin, spin_evidence
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["recording"])
RecordingId = Annotated[str, Path(max_length=120)]
TopRpm = Annotated[SpinRpm | None, Query()]
FileName = Annotated[str, Query(max_length=200)]
FIGURE_POLICY = {
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"
}  # a drawing styles itself


class RecordingKept(BaseModel):
    """A recording was kept under its id.

    What it says is at ``/api/jobs/{number}/recording/{recording}``.
    """

    recording: str


class RecordingsKept(BaseModel):
    """The ids of recordings put down in a job that still stand, oldest first; empty for none."""

    recordings: list[str]


@pages.get("/jobs/{number}/recording", include_in_schema=False)
def recording_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Ask for the file of a recording. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(
        request,
        "job/recording_new.html",
        view=view,
        # what forbids the spin stands before what makes it safe
        cautions=(*view.not_to_run, *recording_cautions(view.family)),
        steps=file_steps(view.family),
        run=run_words(view.family),
        most_mb=MOST_BYTES // 2**20,
    )


@api.get("/jobs/{number}/recording")
def recordings(workshop: WorkshopDep, number: JobNumber) -> RecordingsKept:
    """The recordings put down in a job, in order; not found (404) where there is no such job."""
    # Findings, proofs and sound machines all carry one, each under this name.
    named = [getattr(entry.body, "recording", "") for entry in workshop.jobs.get(number).standing]
    return RecordingsKept(recordings=list(dict.fromkeys(each for each in named if each)))


@pages.post("/jobs/{number}/recording", include_in_schema=False)
def keep_page(workshop: WorkshopDep, number: JobNumber, form: Posted) -> Response:
    """Keep a recording and show what it says.

    Raises NotFoundError, InputError where no file came or it is no recording.
    """
    # A second file is left: which of two was meant cannot be told.
    files = form.files("recording")
    if not files:
        raise InputError("recording: no file came", field="recording", remedy="Choose the file.")
    top_rpm = form.number("top_rpm", LEAST_RPM, MOST_RPM)
    kept = workshop.recordings.keep(
        number, (files[0].filename or "", files[0].file.read()), top_rpm
    )
    _sound_of(workshop, number, kept, form)
    return redirect(
        f"/jobs/{number}/recording/{kept}?{urlencode({'role': form.text('role') or 'before'})}"
    )


@api.post(
    "/jobs/{number}/recording",
    status_code=201,
    openapi_extra={
        "requestBody": {"content": {"text/csv": {}, "application/gzip": {}}, "required": True}
    },
)
async def keep_bytes(
    request: Request,
    workshop: WorkshopDep,
    number: JobNumber,
    name: FileName = "",
    top_rpm: TopRpm = None,
) -> RecordingKept:
    """Keep a recording: the bytes of a CSV or CSV.gz file.

    ``top_rpm`` is the programme's spin speed. A fault (422) where it is no recording, too large
    (413) above 20 MB.
    """
    file = (name, await request.body())
    return RecordingKept(
        # Reading a spin takes a second of arithmetic; in the event loop all other pages would
        # wait for it.
        recording=await run_in_threadpool(workshop.recordings.keep, number, file, top_rpm)
    )


def _sound_of(workshop: Workshop, number: int, recording: str, form: Form) -> bool:
    """Keep the sound that came with a form, if one did."""
    files = form.files("sound")
    if files:
        # Below zero: the microphone ran before the recorder did.
        start_s = form.number("sound_start_s", -2000, 2000)
        workshop.recordings.add_sound(
            number, recording, (files[0].filename or "", files[0].file.read()), start_s
        )
    return bool(files)


@pages.post("/jobs/{number}/recording/{recording}/sound", include_in_schema=False)
def sound_page(
    workshop: WorkshopDep, number: JobNumber, recording: RecordingId, form: Posted
) -> Response:
    """Keep the sound of a recording and show what it says.

    Raises NotFoundError, InputError where no file came or it is no WAV file.
    """
    if not _sound_of(workshop, number, recording, form):
        raise InputError("sound: no file came", field="sound", remedy="Choose the WAV file.")
    return redirect(
        f"/jobs/{number}/recording/{recording}?{urlencode({'role': form.text('role') or 'before'})}"
    )


@api.post(
    "/jobs/{number}/recording/{recording}/sound",
    status_code=201,
    openapi_extra={"requestBody": {"content": {"application/octet-stream": {}}, "required": True}},
)
async def sound_bytes(
    request: Request, workshop: WorkshopDep, number: JobNumber, recording: RecordingId,
    name: FileName = "", start_s: Annotated[float | None, Query(ge=-2000, le=2000)] = None,
) -> RecordingKept:  # fmt: skip
    """Keep the sound of a recording: the bytes of a WAV file.

    ``start_s`` is when it begins on the recording's clock, in seconds. A fault (422) where it is no
    such file.
    """
    file = (name, await request.body())
    await run_in_threadpool(workshop.recordings.add_sound, number, recording, file, start_s)
    return RecordingKept(recording=recording)


@pages.get("/jobs/{number}/recording/{recording}", include_in_schema=False)
def read_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, recording: RecordingId,
    role: Role = "before", top_rpm: TopRpm = None,
) -> Response:  # fmt: skip
    """Show what a recording says.

    Raises NotFoundError, InputError where it cannot be read.
    """
    view = job_view(workshop, number)
    evidence = spin_evidence(workshop, number, recording, role, top_rpm)
    answer = recording_answer(workshop, evidence)
    return page(
        request,
        "job/recording.html",
        view=view,
        told=answer,
        run=run_words(view.family),
        tones="bearing_tones" in kinds_for(view.family),
        given_rpm=top_rpm,
        verdict=recording_verdict(answer, view.family.proof_title),
        figure=recording_chart(workshop, evidence),
        bars={line.group: cause_bar(line) for line in answer.groups},
    )


@api.get("/jobs/{number}/recording/{recording}")
def read(
    workshop: WorkshopDep,
    number: JobNumber,
    recording: RecordingId,
    role: Role = "before",
    top_rpm: TopRpm = None,
) -> RecordingAnswer:
    """What a recording says: the speed reached in rpm, and the causes, the likeliest first.

    Not found (404) where job or recording is unknown, a fault (422) where it cannot be read.
    """
    return recording_answer(workshop, spin_evidence(workshop, number, recording, role, top_rpm))


@pages.post("/jobs/{number}/recording/{recording}", include_in_schema=False)
def put_page(
    workshop: WorkshopDep, number: JobNumber, recording: RecordingId, form: Posted
) -> Response:
    """Put a recording down. Raises NotFoundError, InputError, ConflictError."""
    sent = parse(
        RecordingIn,
        role=form.text("role"),
        top_rpm=form.number("top_rpm", LEAST_RPM, MOST_RPM),
        minutes=form.number("minutes", 0, 1440),
        note=form.text("note"),
        acknowledged=form.text("acknowledged") == "yes",
        **form.sender(),
    )
    add_entry(workshop, number, recording, sent)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/recording/{recording}", status_code=201)
def put(
    workshop: WorkshopDep, number: JobNumber, recording: RecordingId, sent: RecordingIn
) -> Recorded:
    """Put a recording down as evidence of the job, as proof, or as the sound machine's own.

    ``minutes`` is what it took. A fault (422) names the field; conflict (409) where the job moved
    on.
    """
    return recorded(workshop, number, add_entry(workshop, number, recording, sent))


@pages.get("/jobs/{number}/recording/{recording}/figure.svg", include_in_schema=False)
def drawn(
    workshop: WorkshopDep,
    number: JobNumber,
    recording: RecordingId,
    role: Role = "before",
    top_rpm: TopRpm = None,
) -> Response:
    """Draw speed and shake (SVG). Raises NotFoundError, InputError."""
    evidence = spin_evidence(workshop, number, recording, role, top_rpm)
    drawing = recording_chart(workshop, evidence, FILE_PX)
    return Response(drawing, media_type="image/svg+xml", headers=dict(FIGURE_POLICY))


def add_entry(workshop: Workshop, number: int, recording: str, sent: RecordingIn) -> int:
    """Add the entry to the job and return its number.

    Raises NotFoundError, InputError, ConflictError where another was written since.
    """
    evidence = spin_evidence(workshop, number, recording, sent.role, sent.top_rpm)
    return record_spin(
        workshop, evidence, sent.minutes, sent.note, sent.hand, sent.expected_last,
        acknowledged=sent.acknowledged,
    ).number  # fmt: skip
