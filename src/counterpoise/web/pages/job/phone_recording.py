"""Recording a spin with the phone's own browser: the page, and the pieces it sends."""

from __future__ import annotations

from typing import Annotated, Self

from fastapi import APIRouter, Path, Request, Response
from pydantic import BaseModel, ConfigDict, Field, model_validator

from counterpoise.report.views.job import job_view
from counterpoise.report.views.phone_recording import RecordSheet, record_sheet
from counterpoise.report.words.machine_words import run_words
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.pages.workshop.phone import code_for, phone_access
from counterpoise.web.render import page
from counterpoise.web.request_limits import HEADERS
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.jobs.fields import LEAST_RPM, MOST_RPM, SpinRpm
from counterpoise.workshop.services.spin_evidence import Role
from counterpoise.workshop.store.uploads import MOST_PARTS, UploadProgress

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["record"])

# Ten seconds at the 100 Hz of most phones: little is lost where the line breaks.
MOST_ROWS = 1000
# The phone draws the id itself: it can go on after a break without asking what it was called.
Capture = Annotated[
    str, Path(pattern="^[0-9a-f]{32}$", description="32 hexadecimal digits of the sender's choice.")
]
Part = Annotated[int, Path(ge=0, lt=MOST_PARTS)]
# strict: a browser sends numbers; "1e3" as a text is somebody else's. 2.4e6 ms are 40 minutes.
Milliseconds = Annotated[float, Field(strict=True, ge=0, le=2.4e6, allow_inf_nan=False)]
# A hundred times gravity and more: no phone measures it, so it is a fault in the script.
Acceleration = Annotated[float, Field(strict=True, ge=-1000, le=1000, allow_inf_nan=False)]
Column = Annotated[list[Acceleration], Field(min_length=1, max_length=MOST_ROWS)]
# the script of this page alone asks for the motion sensor
_POLICY = {
    "permissions-policy": HEADERS["permissions-policy"]
    + ", accelerometer=(self), screen-wake-lock=(self)",
}


class PieceIn(BaseModel):
    """A piece of a recording: ms since its start, accelerations in the phone's axes in m/s2.

    Gravity is in them. At most 1000 rows, all four columns equally long.
    """

    model_config = ConfigDict(extra="forbid")

    t_ms: Annotated[list[Milliseconds], Field(min_length=1, max_length=MOST_ROWS)]
    x: Column
    y: Column
    z: Column

    @model_validator(mode="after")
    def _equally_long(self) -> Self:
        # A column that is short would pair times with the accelerations of other moments.
        if len({len(self.t_ms), len(self.x), len(self.y), len(self.z)}) != 1:
            raise ValueError("t_ms, x, y and z must be equally long")
        return self


class FinishIn(BaseModel):
    """The recording is over: of how many pieces it is made, and which spin it was.

    ``top_rpm`` is the programme's spin speed in rpm, None where it is not known.
    """

    model_config = ConfigDict(extra="forbid")

    parts: int = Field(ge=1, le=MOST_PARTS)
    role: Role = "before"
    top_rpm: SpinRpm | None = None


class CaptureKept(BaseModel):
    """The recording is whole and kept; ``page`` shows what it says and puts it down."""

    recording: str
    page: str


@pages.get("/jobs/{number}/record", include_in_schema=False)
def record_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, acknowledged: bool = False
) -> Response:
    """Record a spin with this phone; on the computer, a code leads a phone here.

    A machine that must not be run is recorded only once that was ``acknowledged``. Raises
    NotFoundError.
    """
    view = job_view(workshop, number)
    sheet = record_sheet(workshop, view)
    code = code_for(request, f"/jobs/{number}/record")
    shown = page(
        request,
        "job/record.html",
        view=view,
        sheet=sheet,
        code=code,
        phones=phone_access(request),
        acknowledged=acknowledged,
        run=run_words(view.family),
        fast_top=view.family.body.top_rpm if sheet.too_slow else "",
        fastest_rpm=MOST_RPM,
        slowest_rpm=LEAST_RPM,
    )
    # Set before the limits see the answer; those leave what is there.
    shown.headers.update(_POLICY)
    return shown


@api.get("/jobs/{number}/record")
def record(workshop: WorkshopDep, number: JobNumber) -> RecordSheet:
    """What to know before a spin is recorded with a phone, and what has come unfinished.

    Not found (404) where there is no such job.
    """
    return record_sheet(workshop, job_view(workshop, number))


@api.get("/jobs/{number}/record/{capture}")
def come(workshop: WorkshopDep, number: JobNumber, capture: Capture) -> UploadProgress:
    """Which pieces of a recording have come, and its id where it is whole, else empty."""
    return workshop.uploads.arrived(number, capture)


@api.put("/jobs/{number}/record/{capture}/{part}")
def piece(
    workshop: WorkshopDep, number: JobNumber, capture: Capture, part: Part, sent: PieceIn
) -> UploadProgress:
    """Keep a piece of a recording; the same one may come again, and in any order.

    Conflict (409) where it came before with other readings in it.
    """
    # Columns on the line, rows in the store: JSON names each column once instead of at every row.
    rows = list(zip(sent.t_ms, sent.x, sent.y, sent.z, strict=True))
    return workshop.uploads.keep_rows(number, capture, part, rows)


@api.post("/jobs/{number}/record/{capture}", status_code=201)
def over(workshop: WorkshopDep, number: JobNumber, capture: Capture, sent: FinishIn) -> CaptureKept:
    """Make the recording of its pieces; asked again, the answer is the same.

    Conflict (409) where pieces are missing, a fault (422) where the whole cannot be read.
    """
    # A phone whose answer got lost asks again; the pieces are gone by then, the recording is not.
    recording = workshop.uploads.finish(number, capture, sent.parts, sent.top_rpm)
    return CaptureKept(
        recording=recording, page=f"/jobs/{number}/recording/{recording}?role={sent.role}"
    )
