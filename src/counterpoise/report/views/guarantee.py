"""What guarantee can be given for what price, as page, terminal and API tell it."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.errors import InputError
from counterpoise.report.words.family_money import (
    GUARANTEEING,
    FigureLine,
    assumed,
    figure_lines,
)
from counterpoise.workshop.billing.guarantee import (
    MONTHS,
    GuaranteeTerms,
    guarantee_terms,
    whole_machine,
)
from counterpoise.workshop.services.workshop import Workshop

OLDEST_YEARS = 70.0
USUAL_AGE_YEARS = 6.0  # of a machine that comes in; from memory
_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Guarantees:
    """Guarantees on repairs of a family at an age, the surest first, and on the whole machine.

    ``price_minor`` is what the customer would pay for it in minor units, None where that was not
    asked; ``given_months`` is within the price anyhow.
    """

    workshop: str
    currency: str
    family: str
    title: str
    age_years: float
    months: tuple[int, ...]
    # what the usual price holds already; only what goes beyond it is priced
    given_months: int
    price_minor: int | None
    repairs: tuple[GuaranteeTerms, ...]
    machine: GuaranteeTerms
    # what a comeback costs and how long such machines live, each with where it is from
    figures: tuple[FigureLine, ...]
    assumed: str


def guarantees(
    workshop: Workshop,
    family: str,
    age_years: float = USUAL_AGE_YEARS,
    price_minor: int | None = None,
    repair: str = "",
) -> Guarantees:
    """What a guarantee costs, by repair; ``repair`` empty: of every repair of the family.

    Raises InputError for a family, repair, age or price that cannot be.
    """
    # older than that no machine of these families is, and no life table says anything
    if not 0.0 <= age_years <= OLDEST_YEARS:
        raise InputError(
            f"age: {age_years:g} years cannot be", field="age", remedy="Give 0 to 70 years"
        )
    if price_minor is not None and price_minor < 0:
        raise InputError("price: is below zero", field="price", remedy="Give 0 or more")
    known, settings = workshop.family(family), workshop.settings()
    # repairs of this workshop that came back, or did not, say how well it mends
    terms = guarantee_terms(known, settings, age_years, workshop.jobs.outlines(), price_minor)
    # checked last, so that a wrong age is not hidden by a wrong name
    if repair and repair not in known.repairs:
        raise InputError(
            f"repair: there is no {repair[:_SHOWN]!r}",
            field="repair",
            remedy="Name one of this family",
        )
    return Guarantees(
        workshop=settings.workshop_name,
        currency=settings.currency,
        family=family,
        title=known.title,
        age_years=age_years,
        months=MONTHS,
        given_months=settings.warranty_months,
        price_minor=price_minor,
        repairs=tuple(each for each in terms if not repair or each.repair == repair),
        machine=whole_machine(known, settings, age_years, price_minor),
        figures=figure_lines(known, settings, GUARANTEEING),
        assumed=assumed(known, settings, GUARANTEEING),
    )
