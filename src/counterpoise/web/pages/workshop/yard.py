"""Which machine next."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.views.next_machine import HOURS, Yard, to_whom, yard
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.render import page

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["yard"])
# A week at most; nan would compare false with everything and fit every job.
Hours = Annotated[float, Query(ge=0, le=168, allow_inf_nan=False)]


@pages.get("/yard", include_in_schema=False)
def yard_page(request: Request, workshop: WorkshopDep, hours: Hours = HOURS) -> Response:
    """Show which machine to take next in so many hours. Raises StoreError."""
    return page(
        request,
        "workshop/yard.html",
        yard=yard(workshop, hours),
        settings=workshop.settings(),
        to_whom=to_whom,
    )


@api.get("/yard")
def yard_answer(workshop: WorkshopDep, hours: Hours = HOURS) -> Yard:
    """The open jobs by what an hour at the bench gains; which of them fit into ``hours``."""
    return yard(workshop, hours)
