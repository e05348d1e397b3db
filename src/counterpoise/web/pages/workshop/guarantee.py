"""What guarantee can be given for what price."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from counterpoise.report.views.guarantee import (
    OLDEST_YEARS,
    USUAL_AGE_YEARS,
    Guarantees,
    guarantees,
)
from counterpoise.report.words.numbers import read_money
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.render import page
from counterpoise.workshop.jobs.fields import Ident

pages = APIRouter()
api = APIRouter(prefix="/api", tags=["guarantee"])
Age = Annotated[float, Query(ge=0, le=OLDEST_YEARS, allow_inf_nan=False)]
# A text, so that "12,50" is a price as it is in every form.
Price = Annotated[str, Query(max_length=20)]


@pages.get("/guarantee", include_in_schema=False)
def guarantee_page(
    request: Request,
    workshop: WorkshopDep,
    family: Ident = "",
    age: Age = USUAL_AGE_YEARS,
    price: Price = "",
) -> Response:
    """Show what a guarantee on each repair costs.

    Raises InputError where the family is unknown or the price is no sum.
    """
    asked = read_money(price, "price") if price.strip() else None
    offers = guarantees(workshop, workshop.families.usual(family), age, asked)
    return page(
        request,
        "workshop/guarantee.html",
        found=offers,
        families=list(workshop.families.values()),
        price=price,
    )


@api.get("/guarantee")
def guarantee(
    workshop: WorkshopDep,
    family: Ident = "",
    age: Age = USUAL_AGE_YEARS,
    price: Price = "",
    repair: Ident = "",
) -> Guarantees:
    """What a guarantee on each repair costs (minor units) on a machine of ``age`` years.

    With ``price``, typed in whole units, for how many months it can be given for that. A fault
    (422) where the family is unknown or the price is no sum.
    """
    return guarantees(
        workshop,
        workshop.families.usual(family),
        age,
        read_money(price, "price") if price.strip() else None,
        repair,
    )
