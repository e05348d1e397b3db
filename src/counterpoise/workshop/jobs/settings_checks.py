"""Checks changes to the workshop's settings before they are stored."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError
from counterpoise.money.amount import ROUNDINGS
from counterpoise.money.order import ROUND_ON, TAX_MODES
from counterpoise.workshop.jobs.entry_json import Json, read_text
from counterpoise.workshop.jobs.fields import EntryField, Range, fields_of, mark_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.suggestions import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Mapping

# the words are those of the money room, which reckons by them
CHOICES: dict[str, tuple[str, ...]] = {
    "tax_mode": TAX_MODES,
    "rounding": ROUNDINGS,
    "round_on": ROUND_ON,
}
# ISO 4217, those with a hundred minor units: all arithmetic of money here is in hundredths
_CENTS = (
    "AED ALL AMD ARS AUD AZN BAM BBD BDT BGN BMD BND BOB BRL BSD BWP BZD CAD CHF CNY COP CRC "
    "CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG "
    "HUF IDR ILS INR IRR JMD KES KGS KHR KZT LAK LBP LKR LRD LSL MAD MDL MKD MMK MOP MUR MVR "
    "MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD "
    "SCR SDG SEK SGD SLE SOS SRD SSP SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD UYU "
    "UZS VES WST XCD YER ZAR ZMW"
)


def changed(settings: Settings, changes: Mapping[str, object]) -> Settings:
    """Return the settings with the changes made.

    Raises InputError naming the key; then nothing is changed.
    """
    # all keys before any value: a misspelt one means the rest was meant differently too
    known = {field.name: field for field in fields_of(Settings)}
    for key in changes:
        if key not in known:
            raise InputError(
                f"{key}: there is no such setting", field=key, remedy=did_you_mean(key, known)
            )
    return replace(settings, **{key: _checked(known[key], value) for key, value in changes.items()})


def to_json(value: object) -> Json:
    """Return a setting's value as it is stored."""
    return list(value) if isinstance(value, tuple) else value  # type: ignore[return-value]


# Any: the value is as its field asks, which the type checker cannot follow through ``replace``
def _checked(field: EntryField, value: object) -> Any:
    key, limits = field.name, mark_of(field.hint, Range)
    if limits is not None:
        return _number(key, limits, value, whole=field.bare is int)
    if field.bare is bool:
        if not isinstance(value, bool):
            raise InputError(f"{key}: yes or no is expected, not {value!r}", field=key)
        return value
    if key == "tools":
        return _tools(value)
    return _text(key, value)


def _text(key: str, value: object) -> str:
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


def _number(key: str, limits: Range, value: object, *, whole: bool) -> float:
    remedy = f"Give a number from {limits.low} to {limits.high}"
    # a bool is an int in Python, and no amount
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{key}: {value!r} is not a number", field=key, remedy=remedy)
    if not limits.holds(value):
        raise InputError(f"{key}: {value} is out of range", field=key, remedy=remedy)
    if whole and value != int(value):
        raise InputError(
            f"{key}: {value} is not a whole number", field=key, remedy="Money is given in cents"
        )
    return int(value) if whole else float(value)


def _tools(value: object) -> tuple[str, ...] | None:
    # no list at all means that the workshop lacks no tool
    if value is None:
        return None
    if not isinstance(value, list | tuple):
        raise InputError(
            "tools: a list is expected",
            field="tools",
            remedy="List the tools, or none for all of them",
        )
    return tuple(read_text(tool, f"tools[{index}]") for index, tool in enumerate(value))
