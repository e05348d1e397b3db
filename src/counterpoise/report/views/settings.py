"""The settings in words, as they are shown and typed: by page and terminal alike."""

from __future__ import annotations

from typing import TypeAlias

from counterpoise.errors import InputError
from counterpoise.report.languages.tongue import codes
from counterpoise.report.languages.tongue import name as own_name
from counterpoise.report.words.numbers import plain_money, read_money, read_number
from counterpoise.workshop.jobs.fields import Range, fields_of, mark_of
from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings, split_key
from counterpoise.workshop.jobs.settings_checks import CHOICES

# as they are asked on the page: what everybody sets first, what hardly anybody sets last
GROUPS: dict[str, tuple[str, ...]] = {
    "The workshop": (
        "workshop_name",
        "currency",
        "language",
        "people",
        "bench_sees_money",
        "tools",
        "careful",
        "touch_minutes",
        "sure_above_minor",
    ),
    "Its time": (
        "labour_rate_minor",
        "bench_rate_minor",
        "step_minutes",
        "minimum_minutes",
    ),
    "Its prices": (
        "tax_percent",
        "tax_mode",
        "parts_markup_percent",
        "diagnosis_fee_minor",
        # the fee is asked with its own exception
        "diagnosis_credited",
        "callout_minor",
        "rounding",
        "round_on",
        "cash_step_minor",
        "ceiling_percent",
        "ceiling_over_percent",
        "ceiling_step_minor",
    ),
    # what is promised: guarantees, days, and what a broken promise costs
    "What the workshop promises": (
        "warranty_months",
        "guarantee_margin_percent",
        "waiting_day_minor",
        "late_day_minor",
        "days_to_repair",
    ),
    "Parts and shelf": ("used_own", "used_customer", "pattern_parts", "plenty_on_shelf"),
    "Machines of every kind": (
        "parts_sold_percent",
        "days_to_sell_parts",
        "unknown_age_years",
        "discount_rate_percent",
    ),
    # a family's own figures go before these; what was set for a family, before both
    "Kinds of machine whose file leaves these out": BY_FAMILY,
}
# what stands beside each field; {currency} is replaced by the workshop's own
LABELS: dict[str, str] = {
    "workshop_name": "Name of the workshop",
    "currency": "Currency (three letters)",
    "language": "Language of quotes and job sheets, unless a customer's is saved with the job",
    "people": "People at the bench",
    "bench_sees_money": "The bench sees money (people who sign in with the role bench)",
    # a check that needs a tool nobody has is not advised
    "tools": "Tools at hand, with commas between them; empty: all of them",
    "careful": "Be careful: rather a step that holds up if the catalog's figures are off",
    "touch_minutes": (
        "A check by hand of so many minutes goes before what cannot be undone (parting out, scrap, "
        "a new machine, a dear repair)"
    ),
    "sure_above_minor": "A repair is dear from so much on, {currency}",
    # two rates: what is charged, and what an hour truly costs; profit is between them
    "labour_rate_minor": "An hour of labour, charged, before tax, {currency}",
    "bench_rate_minor": "What an hour at the bench costs the workshop, {currency}",
    "selling_minutes": "Minutes to clean, photograph and hand over a machine",
    "diagnosis_fee_minor": "Fee for the diagnosis, {currency}",
    # whoever has it repaired does not pay for finding the fault besides
    "diagnosis_credited": "The fee for the diagnosis is waived where the repair is done",
    "callout_minor": "Call-out, for work at the owner's place, {currency}",
    "step_minutes": "Labour is charged in steps of so many minutes",
    "minimum_minutes": "Labour is charged for at least so many minutes",
    "tax_mode": "Tax is added to rates and prices, or included in them",
    "rounding": "Cents are rounded",
    "round_on": "Rounded is the total, or each line",
    "cash_step_minor": "Smallest coin, {currency}",
    "ceiling_percent": "How often the most we promise must be enough, per cent",
    "ceiling_over_percent": "The most we promise is never so much above the price, per cent",
    "ceiling_step_minor": "The most we promise is a multiple of, {currency}",
    "guarantee_margin_percent": "Added to what a longer guarantee is expected to cost, per cent",
    "waiting_day_minor": "What a day costs on which a customer waits for the machine, {currency}",
    "late_day_minor": "What a day costs after the one it was promised for, {currency}",
    "days_to_repair": "Days from the decision to the handing over",
    "days_to_sell": "Days until a repaired machine is sold",
    "days_to_sell_parts": "Days until the parts of one are sold",
    # no country is assumed; what is due where is for the workshop to know
    "tax_percent": "Tax, per cent (the workshop's own figure, no advice)",
    "parts_markup_percent": "Added to the price of parts, per cent",
    "warranty_months": "Warranty given, months",
    "comeback_minor": "What a machine that comes back costs, {currency}",
    "used_own": "Own machines get used parts from the shelf, where that is cheaper",
    "used_customer": "Customers' machines get them too, without asking",
    "pattern_parts": "Parts to pattern may go in, where they are cheaper",
    "plenty_on_shelf": (
        "So many used pieces of a kind are plenty: one more is worth nothing (0: no such rule)"
    ),
    "new_machine_minor": "A comparable new machine, delivered and connected, {currency}",
    "resale_new_minor": "What a repaired machine sells for while as new, {currency}",
    "resale_fall_percent": "What it loses of that a year, per cent",
    "as_is_percent": "What somebody gives for it unrepaired, per cent of that",
    "parts_sold_percent": "Of the parts stripped, how many find a buyer, per cent",
    "unknown_age_years": "Age assumed where nobody knows it, years",
    "scrap_minor": "What scrapping brings, less the way to the yard, {currency}",
    # above 1 machines wear out, at 1 they fail by chance whatever their age
    "life_shape": "How steeply failures rise with age (1: not at all)",
    "life_scale_years": "Age by which 63 of 100 machines are worn out, years",
    "discount_rate_percent": "Interest, per cent a year",
}
# stored values are ids and stay as they are, whatever the words become
CHOICE_WORDS: dict[str, str] = {
    "added": "added",
    "included": "included",
    "half_up": "from half a cent up",
    "half_down": "above half a cent up",
    # as banks and tax offices ask it
    "half_even": "half a cent to the even one",
    "up": "up",
    "down": "down",
    "total": "the total",
    "line": "each line",
}
SettingValue: TypeAlias = str | int | float | bool | tuple[str, ...] | None
SettingInput: TypeAlias = str | int | float | bool | list[str] | None
_FIELDS = {field.name: field for field in fields_of(Settings) if field.name in LABELS}
_WIDE = 1e9  # the setting's own range is checked where it is stored
_SHOWN = 40


def choices_of(name: str) -> tuple[tuple[str, str], ...]:
    """What a setting can be chosen from, each with its words; empty where it is typed."""
    if name == "language":
        return (("", "as whoever prints it reads"), *((code, own_name(code)) for code in codes()))
    return tuple((choice, CHOICE_WORDS[choice]) for choice in CHOICES.get(name, ()))


def setting_text(name: str, value: SettingValue) -> str:
    """A setting as it stands in its field: money with cents, lists with commas, None empty."""
    if name.endswith("_minor") and isinstance(value, int):
        return plain_money(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return ", ".join(value) if isinstance(value, tuple) else "" if value is None else str(value)


def read_setting(name: str, text: str) -> SettingInput:
    """A setting as typed, ready to be stored: money in minor units. Raises InputError naming it.

    ``name`` may be ``FAMILY.NAME``; whether that can be set is asked where it is stored.
    """
    # a program may send anything; a page only what it was given
    if split_key(name)[1] not in _FIELDS:
        raise InputError(
            f"{name}: there is no such setting",
            field=name,
            remedy=f"Known are {', '.join(BY_FAMILY if '.' in name else _FIELDS)}.",
        )
    if name.endswith("_minor"):
        return _amount(name, text)
    kind = _FIELDS[split_key(name)[1]].bare
    if kind is bool:
        return _yes(name, text)
    if kind in {int, float}:
        value = read_number(text, name, -_WIDE, _WIDE)
        # 2 people, not 2.0: a whole number is stored as one
        return int(value) if value == int(value) else value
    if name == "tools":
        # an empty field means that all tools are there, not that none is
        return [tool.strip() for tool in text.split(",") if tool.strip()] or None
    return text.strip()


def _amount(name: str, text: str) -> int:
    # scrapping a machine may cost money: the setting's range says which may be below zero
    minor = read_money(text, name, negative=True)
    limits = mark_of(_FIELDS[split_key(name)[1]].hint, Range)
    # checked again where it is stored; here the limits are said as amounts are typed
    if limits is not None and not limits.holds(minor):
        low, high = (plain_money(int(limit)) for limit in limits.span)
        raise InputError(
            f"{name}: {text.strip()} is out of range",
            field=name,
            remedy=f"Give an amount from {low} to {high}.",
        )
    return minor


def _yes(name: str, text: str) -> bool:
    word = text.strip().lower()
    # programs and configuration files say true and 1
    if word not in {"yes", "no", "true", "false", "1", "0"}:
        raise InputError(
            f"{name}: {text[:_SHOWN]} is neither yes nor no", field=name, remedy="Say yes or no."
        )
    return word in {"yes", "true", "1"}
