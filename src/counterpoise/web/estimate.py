"""The estimate of a job: what the work costs, line by line."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from pydantic import Field

from counterpoise.report.estimating import EstimateAnswer, estimated
from counterpoise.report.view import view
from counterpoise.web.bench import JobNumber
from counterpoise.web.bodies import Ident
from counterpoise.web.desk import AtDesk
from counterpoise.web.render import page

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["estimate"])
Repairs = Annotated[list[Ident], Query(alias="repair", default_factory=list), Field(max_length=40)]


@pages.get("/jobs/{number}/estimate", include_in_schema=False)
def estimate_page(request: Request, desk: AtDesk, number: JobNumber, repairs: Repairs, used: bool = False) -> Response:
    """Show what the work costs."""
    seen = view(desk, number)
    return page(request, "estimate.html", view=seen, found=estimated(seen, repairs, used=used))


@api.get("/jobs/{number}/estimate")
def estimate(desk: AtDesk, number: JobNumber, repairs: Repairs, used: bool = False) -> EstimateAnswer:
    """What the work costs: ``repair`` (may be repeated) names it, ``used`` takes used parts where they can be had."""
    return estimated(view(desk, number), repairs, used=used)
