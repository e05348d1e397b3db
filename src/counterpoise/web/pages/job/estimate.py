"""The estimate of a job: what the work costs, line by line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from counterpoise.report.views.estimate import EstimateAnswer, estimate_answer
from counterpoise.report.views.job import job_view
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.pages.job.bench import JobNumber
from counterpoise.web.render import page
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.fields import Ident, Short

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["estimate"])
# Bounds on lists: each discount is matched against every line, so a thousand would cost seconds.
Discounts = Annotated[
    list[Short], Query(alias="discount", default_factory=list), Field(max_length=20)
]
Repairs = Annotated[list[Ident], Query(alias="repair", default_factory=list), Field(max_length=40)]
Chosen = Annotated[list[Short], Query(alias="part", default_factory=list), Field(max_length=60)]


def chosen_kinds(texts: Sequence[str]) -> dict[str, str]:
    """``drain_pump=used`` texts as kinds by part; empty for those that leave it open."""
    pairs = [text.partition("=") for text in texts]
    # A part whose box says "as usual" is sent with nothing after the sign.
    return {part: kind for part, _, kind in pairs if kind}


def _asked(
    discounts: Discounts,
    parts: Chosen,
    discount_on: Short = "",
    used: bool = False,
    charged: bool = False,
) -> Terms:
    """What is agreed for this job.

    ``discount_on`` names the lines of the last discount, as a form sends it.
    """
    # The form always sends its empty field along.
    given = [text.strip() for text in discounts if text.strip()]
    # A form has one field for how much and one for off what; a program writes both in one.
    if given and discount_on and ":" not in given[-1]:
        given[-1] = f"{discount_on}:{given[-1]}"
    return Terms(used, tuple(given), charged, tuple(chosen_kinds(parts).items()))


# Estimate and quote take the same terms, read once here, so that the two cannot part.
Asked = Annotated[Terms, Depends(_asked)]


@pages.get("/jobs/{number}/estimate", include_in_schema=False)
def estimate_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, repairs: Repairs, terms: Asked
) -> Response:
    """Show what the work costs. Raises NotFoundError, InputError naming the field."""
    view = job_view(workshop, number)
    return page(
        request,
        "job/estimate.html",
        view=view,
        found=estimate_answer(view, repairs, terms),
        terms=terms,
    )


@api.get("/jobs/{number}/estimate")
def estimate(
    workshop: WorkshopDep, number: JobNumber, repairs: Repairs, terms: Asked
) -> EstimateAnswer:
    """What the work costs: ``repair`` (may be repeated) names it, else what is done and advised.

    ``used`` takes used parts where they can be had.

    ``discount`` (may be repeated) reads ``10%`` or ``12.50`` off the whole, ``labour:10%`` or
    ``replace_belt:5`` off some lines; ``charged`` charges what would be free under the guarantee.
    ``part=drain_pump=pattern`` (may be repeated) chooses the kind of one part: new, pattern or
    used. Sums are in minor units.
    """
    return estimate_answer(job_view(workshop, number), repairs, terms)
