"""Checks changes to the workshop's settings before they are stored."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError
from counterpoise.money.amount import ROUNDINGS
from counterpoise.money.order import ROUND_ON, TAX_MODES
from counterpoise.workshop.jobs.entry_json import read_text
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping

_MONEY = (0, 100_000_00)
_RANGES: dict[str, tuple[float, float]] = {
    "labour_rate_minor": _MONEY,
    "bench_rate_minor": _MONEY,
    "tax_percent": (0, 100),
    "parts_markup_percent": (0, 500),
    "diagnosis_fee_minor": _MONEY,
    "new_machine_minor": _MONEY,
    "resale_new_minor": _MONEY,
    "resale_fall_percent": (0, 100),
    "scrap_minor": (
        -100_000_00,
        100_000_00,
    ),  # the way to the yard may cost more than the metal brings
    "comeback_minor": _MONEY,
    "selling_minutes": (0, 24 * 60),
    "warranty_months": (0, 120),
    "discount_rate_percent": (0, 50),
    "life_shape": (0.2, 20),
    "life_scale_years": (0.5, 100),
    "people": (1, 20),
    "plenty_on_shelf": (0, 1000),
    "unknown_age_years": (0, 70),
    "as_is_percent": (0, 100),
    "parts_sold_percent": (0, 100),
    "callout_minor": _MONEY,
    "cash_step_minor": (1, 10_000),
    "step_minutes": (1, 120),
    "minimum_minutes": (0, 8 * 60),
    "ceiling_percent": (50, 99.9),
    "ceiling_step_minor": (1, 1000_00),
    "guarantee_margin_percent": (0, 500),
    "days_to_repair": (0, 365),
    "days_to_sell": (0, 1000),
    "days_to_sell_parts": (0, 1000),
    "waiting_day_minor": _MONEY,
    "late_day_minor": _MONEY,
}
CHOICES: dict[str, tuple[str, ...]] = {
    "tax_mode": TAX_MODES,
    "rounding": ROUNDINGS,
    "round_on": ROUND_ON,
}
_CENTS = (  # ISO 4217, those with a hundred minor units
    "AED ALL AMD ARS AUD AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BWP BZD CAD CHF CNY COP CRC CUP CVE CZK DKK DOP DZD "
    "EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KZT LAK LBP "
    "LKR LRD LSL MAD MDL MKD MMK MOP MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON "
    "RSD RUB SAR SBD SCR SDG SEK SGD SLE SOS SRD SSP SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU UZS VES "
    "WST XCD YER ZAR ZMW"
)


def changed(settings: Settings, changes: Mapping[str, Any]) -> Settings:
    """Return the settings with the changes made. Raises InputError naming the key; then nothing is changed."""
    kinds = {part.name: str(part.type) for part in fields(Settings)}
    for key in changes:
        if key not in kinds:
            raise InputError(
                f"{key}: there is no such setting", field=key, remedy=did_you_mean(key, kinds)
            )
    return replace(
        settings, **{key: _checked(key, kinds[key], value) for key, value in changes.items()}
    )


def to_json(value: Any) -> Any:
    """Return a setting's value as it is stored."""
    return list(value) if isinstance(value, tuple) else value


def _checked(key: str, kind: str, value: object) -> Any:
    if key in _RANGES:
        return _number(key, value, whole=kind == "int")
    if kind == "bool":
        if not isinstance(value, bool):
            raise InputError(f"{key}: yes or no is expected, not {value!r}", field=key)
        return value
    if key == "tools":
        return _tools(value)
    text = read_text(value, key).strip()
    if key in CHOICES and text not in CHOICES[key]:
        raise InputError(
            f"{key}: {text[:40]!r} is none",
            field=key,
            remedy=f"Use one of {', '.join(CHOICES[key])}",
        )
    if key == "currency" and text not in _CENTS.split():
        remedy = "Give the three letters of a currency with a hundred cents, such as EUR"
        raise InputError(f"currency: {text!r} cannot be used", field=key, remedy=remedy)
    if not text:
        raise InputError(f"{key}: is empty", field=key, remedy="Give a name")
    return text


def _number(key: str, value: object, *, whole: bool) -> float:
    low, high = _RANGES[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(
            f"{key}: {value!r} is not a number",
            field=key,
            remedy=f"Give a number from {low} to {high}",
        )
    if not low <= value <= high:
        raise InputError(
            f"{key}: {value} is out of range",
            field=key,
            remedy=f"Give a number from {low} to {high}",
        )
    if whole and value != int(value):
        raise InputError(
            f"{key}: {value} is not a whole number", field=key, remedy="Money is given in cents"
        )
    return int(value) if whole else float(value)


def _tools(value: object) -> tuple[str, ...] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple):
        raise InputError(
            "tools: a list is expected",
            field="tools",
            remedy="List the tools, or none for all of them",
        )
    return tuple(read_text(tool, f"tools[{index}]") for index, tool in enumerate(value))
