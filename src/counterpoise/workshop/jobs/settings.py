"""The workshop's settings: data, not code, each with its limits.

Defaults are `from memory` for an invented workshop; change them. Money is integer minor units of
``currency``; rates are per hour. What a machine is worth and how long it lives belongs to its
family (:mod:`.family_money`): here stand the figures for families that say nothing of it, and what
the workshop set for a family.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from counterpoise.catalog.family_money import FIGURES
from counterpoise.workshop.jobs.fields import MachinePrice, Range, Whole

_MOST_MINOR = 100_000_00
Price = Annotated[int, Whole(0, _MOST_MINOR)]
Percent = Annotated[float, Range(0, 100)]
Markup = Annotated[float, Range(0, 500)]  # percent
Days = Annotated[float, Range(0, 1000)]
# what a family says of its own machines, and a workshop can set for it as FAMILY.NAME
BY_FAMILY = FIGURES


@dataclass(frozen=True, slots=True)
class FamilySetting:
    """What the workshop set for the machines of one family; ``name`` is one of ``BY_FAMILY``."""

    family: str
    name: str
    value: int | float

    @property
    def key(self) -> str:
        """The name under which it is set and stored."""
        return family_key(self.family, self.name)


def family_key(family: str, name: str) -> str:
    """The name of a setting that holds for one family: ``FAMILY.NAME``."""
    return f"{family}.{name}"


def split_key(key: str) -> tuple[str, str]:
    """(family, name) of a setting; the family is empty where it holds for the whole workshop."""
    # an id of a family may hold points, a name of a setting does not
    family, point, name = key.rpartition(".")
    return (family, name) if point else ("", key)


@dataclass(frozen=True, slots=True)
class Settings:
    """What the workshop charges, what its time costs it, what a machine is worth to it."""

    workshop_name: str = "Workshop"
    currency: str = "EUR"
    # of papers for customers (ISO 639-1); empty: that of whoever makes them
    language: str = ""
    # charged to a customer, an hour, before tax
    labour_rate_minor: Price = 4800
    # what an hour at the bench costs the workshop
    bench_rate_minor: Price = 3600
    tax_percent: Percent = 20.0
    parts_markup_percent: Markup = 20.0
    diagnosis_fee_minor: Price = 3000
    # the fee is waived where the repair is done
    diagnosis_credited: bool = True
    # for work at the owner's place
    callout_minor: Price = 3500
    # to rates and prices, or "included" in them
    tax_mode: str = "added"
    rounding: str = "half_up"
    # or each "line"
    round_on: str = "total"
    # smallest coin
    cash_step_minor: Annotated[int, Whole(1, 10_000)] = 1
    # labour is charged in steps of this
    step_minutes: Annotated[int, Whole(1, 120)] = 1
    minimum_minutes: Annotated[int, Whole(0, 8 * 60)] = 0
    # chance that the most promised is enough
    ceiling_percent: Annotated[float, Range(50, 99.9)] = 95.0
    # but never so much above the price: beyond it one stops and asks (from memory)
    ceiling_over_percent: Percent = 30.0
    ceiling_step_minor: Annotated[int, Whole(1, 1000_00)] = 500
    # for bearing the risk
    guarantee_margin_percent: Markup = 25.0
    # a comparable new machine, delivered and connected
    new_machine_minor: MachinePrice = 62000
    # what a repaired machine of age 0 would sell for; falls with age
    resale_new_minor: Price = 26000
    # a year
    resale_fall_percent: Percent = 11.0
    # of the repaired price, what somebody gives for it unrepaired
    as_is_percent: Percent = 12.0
    # own machines get used parts from the shelf where that is cheaper
    used_own: bool = True
    # customers' machines too, without asking
    used_customer: bool = False
    # parts to pattern, where they are cheaper
    pattern_parts: bool = True
    # so many of a kind are plenty: one more is worth nothing; 0: no such rule (from memory)
    plenty_on_shelf: Annotated[int, Whole(0, 1000)] = 5
    # of what is stripped, how much finds a buyer
    parts_sold_percent: Percent = 75.0
    # assumed where nobody knows
    unknown_age_years: Annotated[float, Range(0, 70)] = 8.0
    # metal value less the way to the yard, which may cost more than the metal brings
    scrap_minor: Annotated[int, Whole(-_MOST_MINOR, _MOST_MINOR)] = -1000
    # a machine that comes back: travel, bench, good name
    comeback_minor: Price = 9000
    # cleaning, photos, handing over
    selling_minutes: Annotated[float, Range(0, 24 * 60)] = 25.0
    warranty_months: Annotated[int, Whole(0, 120)] = 6
    discount_rate_percent: Annotated[float, Range(0, 50)] = 3.0
    # Weibull shape and scale of a machine's life: Wang et al. 2013 (Netherlands 2005)
    life_shape: Annotated[float, Range(0.2, 20)] = 2.2
    life_scale_years: Annotated[float, Range(0.5, 100)] = 13.9
    # what people of the role bench are shown of prices and earnings
    bench_sees_money: bool = True
    # what leans or lies takes two
    people: Annotated[int, Whole(1, 20)] = 2
    # None: the workshop has them all
    tools: tuple[str, ...] | None = None
    careful: bool = False
    # a repair that takes more than this waits for a hand on the part, like parting out, and for
    # the careful mode (from memory: about a third of a used machine of middle age)
    sure_above_minor: Price = 15000
    # a check by hand that takes no more than this goes before what cannot be undone (from memory)
    touch_minutes: Annotated[float, Range(0, 240)] = 10.0
    # from the decision to the handing over
    days_to_repair: Annotated[float, Range(0, 365)] = 3.0
    days_to_sell: Days = 10.0
    days_to_sell_parts: Days = 60.0
    # what a day costs on which a customer has no machine (good name)
    waiting_day_minor: Price = 100
    # and a day after the one it was promised for
    late_day_minor: Price = 1500
    # by family and name; a tuple, since settings are part of the key of what is computed
    by_family: tuple[FamilySetting, ...] = ()

    def set_for(self, family: str, name: str) -> int | float | None:
        """What the workshop set for a family under a name; None where it set nothing."""
        return next((s.value for s in self.by_family if (s.family, s.name) == (family, name)), None)
