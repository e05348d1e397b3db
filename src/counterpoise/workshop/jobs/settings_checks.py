"""Checks changes to the workshop's settings before they are stored."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from counterpoise.errors import InputError
from counterpoise.money.amount import ROUNDINGS
from counterpoise.money.order import ROUND_ON, TAX_MODES
from counterpoise.workshop.jobs.entry_json import Json, read_text
from counterpoise.workshop.jobs.field_checks import check_language
from counterpoise.workshop.jobs.fields import EntryField, Range, fields_of, mark_of
from counterpoise.workshop.jobs.settings import BY_FAMILY, FamilySetting, Settings, split_key
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

    ``FAMILY.NAME`` holds for the machines of one family, and None takes it back. Raises InputError
    naming the key; then nothing is changed. Whether there is such a family is not asked here.
    """
    # all keys before any value: a misspelt one means the rest was meant differently too
    known = {field.name: field for field in fields_of(Settings) if field.name != "by_family"}
    for key in changes:
        _named(key, known)
    general: dict[str, Any] = {}
    by_family = {setting.key: setting for setting in settings.by_family}
    for key, value in changes.items():
        family, name = split_key(key)
        if not family:
            general[key] = _checked(known[key], key, value)
        elif value is None:
            by_family.pop(key, None)
        else:
            by_family[key] = FamilySetting(family, name, _checked(known[name], key, value))
    # sorted, so that the same settings are equal in whatever order they were made
    return replace(
        settings, by_family=tuple(by_family[key] for key in sorted(by_family)), **general
    )


def _named(key: str, known: Mapping[str, object]) -> None:
    """Refuse a key that names no setting, or names one for a family that has none of its own."""
    family, name = split_key(key)
    if "." in key and not family:
        raise InputError(
            f"{key}: no family of machines is named before the point",
            field=key,
            remedy=f"Write it like FAMILY.{name}",
        )
    if name in (BY_FAMILY if family else known):
        return
    if name in known:
        raise InputError(
            f"{key}: {name} holds for the whole workshop, not for one family of machines",
            field=key,
            remedy=f"Set {name}, or one of a family's own: {', '.join(BY_FAMILY)}",
        )
    raise InputError(
        f"{key}: there is no such setting",
        field=key,
        remedy=did_you_mean(name, BY_FAMILY if family else known),
    )


def to_json(value: object) -> Json:
    """Return a setting's value as it is stored."""
    return list(value) if isinstance(value, tuple) else value  # type: ignore[return-value]


# Any: the value is as its field asks, which the type checker cannot follow through ``replace``
def _checked(field: EntryField, key: str, value: object) -> Any:
    limits = mark_of(field.hint, Range)
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
    if key == "language":
        check_language(text, key)
    elif not text:
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
