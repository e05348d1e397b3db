"""What a machine yields as a donor, and the labels for it and its parts."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from counterpoise.report.paper.pdf import labels_pdf
from counterpoise.report.views.donor import Donor, donor
from counterpoise.report.views.job import job_view
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.render import page

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["donor"])


@pages.get("/jobs/{number}/parts", include_in_schema=False)
def parts_page(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Show which parts of the machine are worth keeping. Raises NotFoundError."""
    view = job_view(workshop, number)
    return page(request, "job/donor.html", view=view, donor=donor(view))


@api.get("/jobs/{number}/parts")
def parts(workshop: WorkshopDep, number: JobNumber) -> Donor:
    """Which parts of the machine are good, what they bring (minor units), and their labels.

    Not found (404) where there is no such job.
    """
    return donor(job_view(workshop, number))


@pages.get("/jobs/{number}/labels.pdf", include_in_schema=False)
def labels_file(request: Request, workshop: WorkshopDep, number: JobNumber) -> Response:
    """Send labels (PDF) for the machine and its parts; their code leads back to the job.

    Raises NotFoundError.
    """
    # The address by which this very browser came: from a phone the code then works for phones.
    # of the bench: in the language of whoever sticks them on
    labels = labels_pdf(donor(job_view(workshop, number)), f"{request.base_url}jobs/{number}")
    named = {"content-disposition": f'inline; filename="labels-{number}.pdf"'}
    return Response(labels, media_type="application/pdf", headers=named)
