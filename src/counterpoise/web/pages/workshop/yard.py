"""Which machine next."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.views.next_machine import HOURS, Yard, yard
from counterpoise.web.dependencies import AtDesk
from counterpoise.web.render import page

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["yard"])
Hours = Annotated[float, Query(ge=0, le=168, allow_inf_nan=False)]


@pages.get("/yard", include_in_schema=False)
def yard_page(request: Request, desk: AtDesk, hours: Hours = HOURS) -> Response:
    """Show which machine to take next."""
    return page(request, "workshop/yard.html", yard=yard(desk, hours), settings=desk.settings())


@api.get("/yard")
def yard_answer(desk: AtDesk, hours: Hours = HOURS) -> Yard:
    """The open jobs by what an hour at the bench gains; which of them fit into ``hours``."""
    return yard(desk, hours)
