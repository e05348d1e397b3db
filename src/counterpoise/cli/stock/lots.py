"""A lot as it is said in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.workshop.parts.stock import Lot
    from counterpoise.workshop.services.workshop import Workshop


def moved_lot(workshop: Workshop, lot: Lot, in_words: bool) -> Lot:
    """The lot as it lies now, printed where ``in_words``."""
    if in_words:
        # by its name of today; an item that left the catalog keeps its id
        title = workshop.families.title_of(lot.family, lot.item)
        console().print(say(f"{title}: {lot_line(lot, workshop.settings().currency)}"))
    return lot


def lot_line(lot: Lot, currency: str) -> str:
    """A lot in one line: pieces, kind, place, origin, reserved ones, cost of one with its unit."""
    from counterpoise.report.views.stock import KINDS, origin_words
    from counterpoise.report.words.numbers import money as amount

    # reserved pieces lie there too, and are not to be taken
    held = ", ".join(f"{pieces} reserved for job {job}" for job, pieces in lot.held)
    place = f"in {lot.place}" if lot.place else ""
    parts = [f"lot {lot.number}: {lot.pieces} {KINDS[lot.kind]}", place, origin_words(lot), held]
    return (
        f"{', '.join(text for text in parts if text)}; cost {amount(lot.cost_minor, currency)} each"
    )
