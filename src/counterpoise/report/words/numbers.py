"""Numbers and times as a person at the bench says them, and back; for page, terminal and paper."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal, InvalidOperation

from counterpoise.errors import InputError
from counterpoise.money.amount import GAP, MINUS
from counterpoise.money.amount import show as money
from counterpoise.money.amount import show_about as about

_MOST_MINOR = 10**11  # a billion: beyond it somebody typed a telephone number
_LONGEST = 24
SURELY_THERE = 0.95  # from this chance on nobody is told that a machine may lack an assembly


def reach(low_minor: int, high_minor: int, currency: str) -> str:
    """The range of an expected amount in minor units: ``20 to 150 EUR``; empty for one amount."""
    low, high = about(low_minor, currency), about(high_minor, currency)
    return "" if low == high else f"{low.removesuffix(currency).strip()} to {high}"


def plain_money(minor: int) -> str:
    """Minor units as they stand in a field to be edited: ``1420`` gives ``14.20``."""
    return f"{Decimal(minor).scaleb(-2):.2f}"


def read_money(text: str, field: str, *, negative: bool = False) -> int:
    """Minor units of an amount as typed: ``12``, ``12.50``, ``12,50``.

    Raises InputError naming the field.
    """
    amount = _decimal(text, field)
    # exact: no binary fraction ever stands for money here
    minor = amount.scaleb(2)
    if minor != minor.to_integral_value():
        raise InputError(
            f"{field}: {text.strip()} has parts of a cent",
            field=field,
            remedy="Round it to two digits.",
        )
    # a price is never below zero; what a scrapped machine brings may be
    if minor < 0 and not negative:
        raise InputError(
            f"{field}: {text.strip()} is below zero",
            field=field,
            remedy="Give an amount of 0 or more.",
        )
    if abs(minor) > _MOST_MINOR:
        raise InputError(
            f"{field}: {text.strip()} is too large", field=field, remedy="Check the figure."
        )
    return int(minor)


def read_number(text: str, field: str, low: float, high: float) -> float:
    """A number as typed, point or comma, from ``low`` to ``high``.

    Raises InputError naming the field.
    """
    value = float(_decimal(text, field))
    if not low <= value <= high:
        raise InputError(
            f"{field}: {text.strip()} cannot be right",
            field=field,
            remedy=f"Give a number from {low:g} to {high:g}.",
        )
    return value


def _decimal(text: str, field: str) -> Decimal:
    # comma or point before the cents; thousands are not parted, so that neither is mistaken
    cleaned = text.strip().replace(",", ".").replace(MINUS, "-").replace(GAP, "")
    try:
        value = Decimal(cleaned)
    except InvalidOperation:
        value = Decimal("NaN")
    if value.is_finite() and len(cleaned) > _LONGEST:
        raise InputError(
            f"{field}: {text.strip()[:12]}... has too many digits",
            field=field,
            remedy="Check the figure.",
        )
    # Decimal reads "nan" and "inf" as numbers
    if not value.is_finite():
        shown = text.strip()[:40] or "nothing"
        raise InputError(
            f"{field}: {shown} is not a number",
            field=field,
            remedy="Write it in digits, like 12.5.",
        )
    return value


def minutes(value: float) -> str:
    """Minutes of bench time: ``65`` gives ``1 h 05 min``."""
    whole = round(value)
    # a glance is quick but not free
    if 0 < value < 1:
        return "under 1 min"
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def chance(probability: float) -> str:
    """A probability in per cent, never 0 or 100: nothing here is sure."""
    if probability >= 0.995:
        return "over 99 %"
    if probability < 0.005:
        return "under 1 %"
    # half a per cent on the dot rounds to the even 0
    return f"{max(1, round(100 * probability))} %"


def if_there(probability: float) -> str:
    """What stands before an assembly that the machine may lack; empty where it is known."""
    return "" if probability >= SURELY_THERE else f"if it has one ({chance(probability)}): "


def age(years: float | None) -> str:
    """An age in years: ``6.0`` gives ``6 years``; None is said to be not known."""
    if years is None:
        return "age not known"
    return "1 year" if years == 1 else f"{years:g} years"


def when(stamp: str) -> str:
    """An ISO 8601 time in UTC as local date and time of day; one without a zone as it stands."""
    moment = dt.datetime.fromisoformat(stamp)
    # the clock on the wall of the workshop
    local = moment.astimezone() if moment.tzinfo else moment
    return f"{local.day} {local:%b %Y, %H:%M}"


def day(stamp: str) -> str:
    """The date of an ISO 8601 time or day: ``2026-03-05`` gives ``5 Mar 2026``."""
    return when(stamp).partition(",")[0]


def colon(asked: str) -> str:
    """What stands between something asked and its answer: a whole sentence needs no colon."""
    return "" if not asked or asked.endswith(("?", ":", ".", "!")) else ":"


def people(count: int) -> str:
    """How many people a step needs: ``one person``, ``2 people``."""
    return "one person" if count == 1 else f"{count} people"


def number(value: float) -> str:
    """A reading to six digits, without trailing noughts."""
    return f"{value:.6g}".replace("-", MINUS)


__all__ = [
    "about",
    "age",
    "chance",
    "colon",
    "day",
    "minutes",
    "money",
    "number",
    "people",
    "plain_money",
    "reach",
    "read_money",
    "read_number",
    "when",
]
