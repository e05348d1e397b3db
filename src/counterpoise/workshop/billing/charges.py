"""How the workshop charges: its rates as the money room takes them, discounts as typed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import cast

from counterpoise.errors import InputError
from counterpoise.money.amount import Rounding, read
from counterpoise.money.order import Charges, Discount, RoundOn, TaxMode
from counterpoise.workshop.jobs.settings import Settings


def charges_of(settings: Settings, owner: str) -> Charges:
    """How a customer is charged; for the workshop's own machine, what the work costs it.

    ``owner`` "workshop" or "customer". Rates in minor units an hour.
    """
    # its own machine bears bench time and parts alone: no tax, mark-up, fee or rounding
    if owner == "workshop":
        return Charges(settings.bench_rate_minor, settings.currency)
    return Charges(
        settings.labour_rate_minor,
        settings.currency,
        tax_percent=settings.tax_percent,
        markup_percent=settings.parts_markup_percent,
        diagnosis_minor=settings.diagnosis_fee_minor,
        diagnosis_credited=settings.diagnosis_credited,
        callout_minor=settings.callout_minor,
        step_minutes=settings.step_minutes,
        minimum_minutes=settings.minimum_minutes,
        # settings are checked against the same words when they are changed
        rounding=cast("Rounding", settings.rounding),
        round_on=cast("RoundOn", settings.round_on),
        tax_mode=cast("TaxMode", settings.tax_mode),
        cash_step=settings.cash_step_minor,
        ceiling_over_percent=settings.ceiling_over_percent,
        ceiling_chance=settings.ceiling_percent / 100.0,
        ceiling_step=settings.ceiling_step_minor,
    )


def with_discounts(charges: Charges, discounts: Iterable[str]) -> Charges:
    """The charges with discounts as :class:`Terms` writes them. Raises InputError for others.

    Discounts off the whole add up; those off a kind of lines or one line stay apart.
    """
    # the money room takes one discount off the whole, and any number off lines
    whole, of_lines = Discount(""), []
    for text in discounts:
        line, _, size = text.rpartition(":")
        discount = _discount(line.strip(), size.strip(), charges.currency)
        # nothing before the colon, or no colon: it is off the whole
        if discount.on:
            of_lines.append(discount)
        else:
            whole = Discount("", whole.percent + discount.percent, whole.minor + discount.minor)
    return replace(
        charges,
        line_discounts=tuple(of_lines),
        discount_percent=whole.percent,
        discount_minor=whole.minor,
    )


def _discount(line: str, size: str, currency: str) -> Discount:
    if not size.endswith("%"):
        return Discount(line, minor=read(size, currency))
    try:
        # both ways of writing a decimal are in use at a bench
        return Discount(line, percent=float(size[:-1].replace(",", ".")))
    except ValueError:
        raise InputError(
            f"discount: {size[:20]!r} is no share",
            field="discount",
            remedy="Write it like 10% or 12.50",
        ) from None
