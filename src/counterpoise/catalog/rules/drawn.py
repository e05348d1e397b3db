"""Rules of the drawing: what a hand does has its place in it, what can maim its own picture."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from counterpoise.catalog.rules.rule import Broken, Rule
from counterpoise.catalog.sites import place_of_access, place_of_fault, place_of_work

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family


def _sites(family: Family) -> Iterator[tuple[tuple[str, ...], str]]:
    """Where each fault, panel, check and repair lies, beside its own place in the file."""
    for fault in family.faults.values():
        yield ("faults", fault.id), place_of_fault(family, fault)
    for panel in family.access:
        yield ("access", panel), place_of_access(family, panel)
    for check in family.checks.values():
        yield ("checks", check.id), place_of_work(family, check)
    for repair in family.repairs.values():
        yield ("repairs", repair.id), place_of_work(family, repair)


def _not_drawn(family: Family) -> Iterator[Broken]:
    # without a drawing nothing is drawn, and all of it is named
    drawn = family.drawing.places if family.drawing is not None else {}
    for entry, site in _sites(family):
        if site not in drawn:
            yield entry, f"it lies at {site or 'no place'}, which is not drawn"


def _without_sketch(family: Family) -> Iterator[Broken]:
    for caution in family.cautions.values():
        # a lesser one is read; what maims must be seen at a glance
        if caution.grave and not caution.sketch:
            yield ("cautions", caution.id), "a grave caution without a small drawing"


RULES = (
    Rule(
        "drawn",
        "shipped",
        "Each fault, panel, check and repair lies at a place of the drawing.",
        "write 'place:', or add the place to 'drawing'",
        _not_drawn,
    ),
    Rule(
        "grave_drawn",
        "shipped",
        "Each grave caution has a small drawing (`sketch`).",
        "write 'sketch:' with a name of docs/drawings.md",
        _without_sketch,
    ),
)
