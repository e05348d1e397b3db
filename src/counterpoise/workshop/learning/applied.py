"""A family with learned figures in the place of the written ones: the one place where that is done.

Whoever reckons with a family of this workshop gets it from here, so planner, options, estimate,
yard and guarantee cannot differ in it; its ``digest`` tells it from the written one, and its
``changes`` say of each figure what it was.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from hashlib import blake2b
from typing import Any

from counterpoise.catalog.changed_figure import ChangedFigure
from counterpoise.catalog.family import Family
from counterpoise.workshop.diagnosis.evidence.set_reader import (
    SPIN,
    TEMPERATURE,
    WEIGHT,
    reads_spins,
    spin_outcomes,
)
from counterpoise.workshop.learning.learned import LearnedFigure

# what a learned figure is from, beside "from memory" and the like
WORKSHOP_JOBS = "this workshop's closed jobs"
OTHER_WORKSHOPS = "what other workshops counted"
# Digits that are kept: what lies below would make every family anew for nothing.
_DIGITS = 4


def learned_family(family: Family, figures: Sequence[LearnedFigure]) -> Family:
    """The family as this workshop has come to know it; the same object where nothing was learned.

    A figure whose place the family no longer has is left out.
    """
    changes = tuple(change for each in figures if (change := _change(family, each)))
    if not changes:
        return family
    # gathered first: an entry is made anew once, however many of its figures moved
    by_entry: dict[tuple[str, str], dict[str, float]] = defaultdict(dict)
    reader: dict[str, float] = {}
    for change in changes:
        section, _, rest = change.place.partition(".")
        if section == SPIN:
            reader[rest] = change.here
            continue
        entry, _, field = rest.partition(".")
        by_entry[section, entry][field] = change.here
    parts: dict[str, Any] = {}
    for (section, entry), fields in by_entry.items():
        if section == "proof":
            parts["proof_minutes"] = fields[""]
        elif section == "money":
            money = parts.get("money", family.money)
            # minor units have no halves
            whole = entry.endswith("_minor")
            value = round(fields[""]) if whole else fields[""]
            parts["money"] = replace(money, **{entry: value}) if money else None
        else:
            held = parts.get(section, getattr(family, section))
            parts[section] = {**held, entry: _entry(held[entry], fields)}
    if reader:
        # one reader answers them all
        checks = parts.get("checks", family.checks)
        set_now = {c: replace(checks[c], reader=reader) for c in checks if reads_spins(family, c)}
        parts["checks"] = {**checks, **set_now}
    return replace(
        family,
        changes=(*family.changes, *changes),
        digest=f"{family.digest}+{digest_of(changes)}",
        **parts,
    )


def digest_of(changes: Sequence[ChangedFigure]) -> str:
    """What tells a learned family from the written one, and from one learned of other jobs.

    Whatever is kept of a family is kept under ``Family.digest``, which ends in this.
    """
    text = "|".join(
        f"{each.place}={each.here!r},{each.jobs}" + (f",{each.workshops}" if each.workshops else "")
        for each in changes
    )
    return blake2b(text.encode(), digest_size=8).hexdigest()


def _change(family: Family, figure: LearnedFigure) -> ChangedFigure | None:
    here = float(f"{figure.here:.{_DIGITS}g}")
    if not _known(family, figure.place) or here == float(f"{figure.written:.{_DIGITS}g}"):
        return None
    source = WORKSHOP_JOBS if figure.of or figure.pool is None else OTHER_WORKSHOPS
    return ChangedFigure(
        figure.place, figure.written, here, source, "", figure.of,
        figure.pool, figure.workshops, figure.records,
    )  # fmt: skip


def _known(family: Family, place: str) -> bool:
    # a file that changed since has another digest, and places of it may be gone
    section, _, rest = place.partition(".")
    if section == SPIN:
        return rest in {TEMPERATURE, *(f"{WEIGHT}.{name}" for name in spin_outcomes(family))}
    entry, _, field = rest.partition(".")
    if section == "proof":
        return entry == "minutes"
    if section == "money":
        return family.money is not None and getattr(family.money, entry, None) is not None
    held: Mapping[str, Any] = getattr(family, section)
    if entry not in held:
        return False
    kind, _, of = field.partition(".")
    if kind == "under":
        key, _, outcome = of.rpartition(".")
        return key in held[entry].under and outcome in held[entry].outcomes
    return of in held[entry].cures if kind == "cures" else True


def _entry(entry: Any, fields: Mapping[str, float]) -> Any:  # any of the records
    """An entry of the catalog with figures by field: ``prior``, ``under.KEY.OUTCOME`` and so on."""
    plain = {name: value for name, value in fields.items() if "." not in name}
    tables: dict[str, Any] = {}
    for name, value in fields.items():
        kind, _, of = name.partition(".")
        if kind == "under":
            key, _, outcome = of.rpartition(".")
            under = tables.setdefault(kind, {k: dict(row) for k, row in entry.under.items()})
            under[key][outcome] = value
        elif of:
            tables.setdefault(kind, dict(getattr(entry, kind)))[of] = value
    return replace(entry, **plain, **tables)


__all__ = ["OTHER_WORKSHOPS", "WORKSHOP_JOBS", "digest_of", "learned_family"]
