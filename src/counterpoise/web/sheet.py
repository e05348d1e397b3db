"""The job sheet, as a page to print, as PDF and as JSON."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from counterpoise.report.pdf import sheet_pdf
from counterpoise.report.sheet import Sheet, build_sheet
from counterpoise.report.view import JobView, view
from counterpoise.web.bench import JobNumber
from counterpoise.web.desk import AtDesk
from counterpoise.web.render import page

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["sheet"])


def _sheet(seen: JobView) -> Sheet:
    return build_sheet(seen.job, seen.family, seen.assessment, seen.settings)


@pages.get("/jobs/{number}/sheet", include_in_schema=False)
def sheet_page(request: Request, desk: AtDesk, number: JobNumber) -> Response:
    """Show the job sheet."""
    seen = view(desk, number)
    return page(request, "sheet_page.html", view=seen, sheet=_sheet(seen))


@api.get("/jobs/{number}/sheet")
def sheet(desk: AtDesk, number: JobNumber) -> Sheet:
    """The job sheet, in parts."""
    return _sheet(view(desk, number))


@pages.get("/jobs/{number}/sheet.pdf", include_in_schema=False)
def sheet_file(desk: AtDesk, number: JobNumber) -> Response:
    """Send the job sheet as PDF."""
    named = {"content-disposition": f'inline; filename="job-{number}.pdf"'}
    return Response(sheet_pdf(_sheet(view(desk, number))), media_type="application/pdf", headers=named)
