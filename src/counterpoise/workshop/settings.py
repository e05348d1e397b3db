"""The workshop's settings: data, not code. Defaults are `from memory` for an invented workshop; change them.

Money is integer minor units of ``currency``; rates are per hour.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Settings:
    """What the workshop charges, what its time costs it, what a machine is worth to it."""

    workshop_name: str = "Workshop"
    currency: str = "EUR"
    labour_rate_minor: int = 4800  # charged to a customer, an hour, before tax
    bench_rate_minor: int = 3600  # what an hour at the bench costs the workshop
    tax_percent: float = 20.0
    parts_markup_percent: float = 20.0
    diagnosis_fee_minor: int = 3000
    new_machine_minor: int = 62000  # a comparable new machine, delivered and connected
    resale_new_minor: int = 26000  # what a repaired machine of age 0 would sell for; falls with age
    resale_fall_percent: float = 11.0  # a year
    as_is_percent: float = 12.0  # of the repaired price, what somebody gives for it unrepaired
    parts_sold_percent: float = 75.0  # of what is stripped, how much finds a buyer
    unknown_age_years: float = 8.0  # assumed where nobody knows
    scrap_minor: int = -1000  # metal value less the way to the yard
    comeback_minor: int = 9000  # a machine that comes back: travel, bench, good name
    selling_minutes: float = 25.0  # cleaning, photos, handing over
    warranty_months: int = 6
    discount_rate_percent: float = 3.0
    life_shape: float = 2.2  # Weibull shape, Wang et al. 2013 (Netherlands 2005)
    life_scale_years: float = 13.9  # Weibull scale, same source
    people: int = 2  # what leans or lies takes two
    tools: tuple[str, ...] | None = None  # None: the workshop has them all
    careful: bool = False
