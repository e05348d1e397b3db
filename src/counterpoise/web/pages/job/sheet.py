"""The job sheet, as a page to print, as PDF and as JSON."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

from counterpoise.errors import NotFoundError
from counterpoise.report.languages import tongue
from counterpoise.report.paper.language import paper_language
from counterpoise.report.paper.pdf import sheet_pdf
from counterpoise.report.paper.sheet import TYPED, Sheet, build_sheet
from counterpoise.report.paper.sheet_pictures import photos_of, with_curve
from counterpoise.report.paper.sheet_spin import spin_of, with_spin
from counterpoise.report.views.job import JobView, job_view
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.pages.job.recording import FIGURE_POLICY
from counterpoise.web.render import page, reads

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["sheet"])


def _sheet(view: JobView) -> Sheet:
    return build_sheet(view)


@pages.get("/jobs/{number}/sheet", include_in_schema=False)
def sheet_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show the job sheet. Raises NotFoundError."""
    view = job_view(workshop, number)
    language = reads(request, paper_language(view))
    with tongue.reading(language):
        # A drawing takes a second: the page comes at once and fetches it afterwards.
        printed = with_spin(_sheet(view), view, drawn=False)
        printed = with_curve(printed, view, workshop, drawn="page")
    # The number of the last entry in the address: a browser never shows the spin of yesterday's
    # suspects.
    drawn_at = f"/jobs/{number}/spin.svg?at={view.last}&language={language}"
    picture = drawn_at if view.in_motion else ""
    return page(
        request,
        "job/sheet_page.html",
        paper_language=paper_language(view),
        view=view,
        sheet=printed,
        typed=TYPED,
        picture=picture,
        drawn="",
        # the drawing is our own; a text of somebody would be escaped
        curve=Markup(printed.curve.svg if printed.curve else ""),  # noqa: S704
        photos={photo.id: f"/jobs/{number}/photos/{photo.id}" for photo in printed.photos},
    )


@api.get("/jobs/{number}/sheet")
def sheet(workshop: WorkshopDep, number: JobNumber) -> Sheet:
    """The job sheet, in parts; not found (404) where there is no such job."""
    view = job_view(workshop, number)
    return with_curve(with_spin(_sheet(view), view, drawn=False), view, workshop, drawn="")


@pages.get("/jobs/{number}/sheet.pdf", include_in_schema=False)
def sheet_file(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Send the job sheet as PDF, in the customer's language. Raises NotFoundError."""
    named = {"content-disposition": f'inline; filename="job-{number}.pdf"'}
    view = job_view(workshop, number)
    with tongue.reading(reads(request, paper_language(view))):
        printed = with_curve(with_spin(_sheet(view), view), view, workshop)
        document = sheet_pdf(printed, photos_of(printed, workshop))
    return Response(document, media_type="application/pdf", headers=named)


@pages.get("/jobs/{number}/spin.svg", include_in_schema=False)
def spin_picture(workshop: WorkshopDep, number: JobNumber, tall: bool = False) -> Response:
    """Draw what the machine does in a spin, sound and with its leading suspect (SVG).

    ``tall``: for a phone. Raises NotFoundError where there is no such job or nothing to draw.
    """
    spin = spin_of(job_view(workshop, number), form="tall" if tall else "wide")
    # Families without a model of their motion, and jobs whose suspects do not move the drum.
    if spin is None or not spin.svg:
        raise NotFoundError(
            f"There is no drawing of a spin for job {number}",
            remedy="Drawn is only a fault that the model in motion knows, of a machine like it.",
        )
    return Response(spin.svg, media_type="image/svg+xml", headers=dict(FIGURE_POLICY))
