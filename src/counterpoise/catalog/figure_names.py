"""A figure of a family in words, by its place (``checks.push.under.damper_worn.weak``)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.catalog.check_parts import RECORDING

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

# figures of no entry, by what stands after the section
_ALONE = {
    "resale_new_minor": "What a repaired machine of age 0 sells for",
    "days_to_sell": "Days to sell one",
    "minutes": "Minutes for the proof",
}


def figure_name(family: Family, place: str) -> str:
    """What a figure is of, as a sentence begins with it; its field where there is no better word.

    An id that the family no longer has stays as it is.
    """
    section, _, rest = place.partition(".")
    entry, _, field = rest.partition(".")
    if section in {"money", "proof"}:
        words = _ALONE.get(rest, f"{entry} of the proof" if section == "proof" else rest)
        return f"{words}, {family.currency}" if rest.endswith("_minor") else words
    if section == "spin":
        if entry == "temperature":
            return "Temperature of the reader of spins (1: as sure as it came)"
        shown = _spin_group(family, field)
        return f'Weight of "{shown}" where the reader of spins names it'
    held = getattr(family, section, {}).get(entry)
    title = f'"{held.title if held else entry}"'
    kind, _, of = field.partition(".")
    known = {"prior": f"How often {title} comes in", "minutes": f"Minutes for {title}"}
    if kind == "cures":
        return f'How surely {title} mends "{_fault(family, of)}"'
    if section == "checks" and kind in {"under", "otherwise"}:
        key, _, outcome = of.rpartition(".")
        shown = held.outcomes.get(outcome, outcome) if held else outcome
        where = f'with "{_fault(family, key)}"' if kind == "under" else "with none of its faults"
        return f'{title} shows "{shown}" {where}'
    return known.get(field, f"{field} of {title}")


def _spin_group(family: Family, outcome: str) -> str:
    check = family.checks.get(RECORDING)
    return check.outcomes.get(outcome, outcome) if check else outcome


def _fault(family: Family, key: str) -> str:
    name, _, grade = key.partition(":")
    fault = family.faults.get(name)
    if fault is None:
        return key
    graded = next((each.title for each in fault.grades if each.id == grade), "")
    return f"{fault.title}, {graded}" if graded else fault.title
