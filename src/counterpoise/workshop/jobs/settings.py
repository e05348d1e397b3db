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
    diagnosis_credited: bool = True  # the fee is waived where the repair is done
    callout_minor: int = 3500  # for work at the owner's place
    tax_mode: str = "added"  # to rates and prices, or "included" in them
    rounding: str = "half_up"
    round_on: str = "total"  # or each "line"
    cash_step_minor: int = 1  # smallest coin
    step_minutes: int = 1  # labour is charged in steps of this
    minimum_minutes: int = 0
    ceiling_percent: float = 95.0  # chance that the most promised is enough
    ceiling_step_minor: int = 500
    guarantee_margin_percent: float = 25.0  # for bearing the risk
    new_machine_minor: int = 62000  # a comparable new machine, delivered and connected
    resale_new_minor: int = 26000  # what a repaired machine of age 0 would sell for; falls with age
    resale_fall_percent: float = 11.0  # a year
    as_is_percent: float = 12.0  # of the repaired price, what somebody gives for it unrepaired
    used_own: bool = True  # own machines get used parts from the shelf where that is cheaper
    used_customer: bool = False  # customers' machines too, without asking
    pattern_parts: bool = True  # parts to pattern, where they are cheaper
    plenty_on_shelf: int = (
        5  # so many of a kind are plenty: one more is worth nothing; 0: no such rule (from memory)
    )
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
    days_to_repair: float = 3.0  # from the decision to the handing over
    days_to_sell: float = 10.0
    days_to_sell_parts: float = 60.0
    waiting_day_minor: int = 100  # what a day costs on which a customer has no machine (good name)
    late_day_minor: int = 1500  # and a day after the one it was promised for
