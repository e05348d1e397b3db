"""What others do at the same job: asked every second or so by each page that lies open."""

from __future__ import annotations

import hashlib
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.views.bench.together import Together, together
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.presence import name_of, place_of
from counterpoise.web.render import page, reads

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["bench"])
Since = Annotated[
    int | None, Query(ge=0, le=10**9, description="The last entry known; none: only who is there.")
]


@pages.get("/jobs/{number}/now", include_in_schema=False)
def now_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, since: Since = None
) -> Response:
    """Show who else is here and what was added; 304 where that is known. Raises NotFoundError."""
    place = place_of(request)
    # asking is a sign of life: nothing is written for it
    if place:
        workshop.presence.sign(place, number, name_of(request))
    now = together(workshop, number, since, place)
    # all that the answer hangs on; the language too, for a browser may change it meanwhile
    said = repr((now.last, since, now.here, reads(request)))
    mark = f'"{hashlib.sha256(said.encode()).hexdigest()[:16]}"'
    # mostly nothing has changed: then nothing is put into words
    if request.headers.get("if-none-match") == mark:
        return Response(status_code=304, headers={"etag": mark})
    shown = page(request, "job/now.html", together=now)
    shown.headers["etag"] = mark
    return shown


@api.get("/jobs/{number}/now")
def now(
    request: Request, workshop: WorkshopDep, number: JobNumber, since: Since = None
) -> Together:
    """Who looks at the job now, its last entry, and those added after ``since``.

    Costs no look at the evidence where none was added; not found (404) where there is no such job.
    """
    return together(workshop, number, since, place_of(request))
