"""The shelf in words, for page and terminal."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.money.quote import out_of_ten
from counterpoise.report.views.donor import Donor, Label
from counterpoise.report.views.job import JobView
from counterpoise.workshop.diagnosis.part_texts import on_shelf
from counterpoise.workshop.parts.stock import Lot, Movement
from counterpoise.workshop.services.workshop import Workshop

# "to pattern": made by another maker to the same drawing
KINDS = {"new": "new", "pattern": "to pattern", "used": "used"}
_VERBS = {
    "received": "came in", "counted": "counted", "moved": "moved", "reserved": "reserved",
    "released": "let go", "used": "used", "written_off": "written off", "undone": "undone",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Piece:
    """Pieces of a lot that a repair may take; ``ticked``: they are reserved for this job."""

    lot: int
    count: int
    words: str
    ticked: bool


def pieces_for(view: JobView, repair: str) -> tuple[Piece, ...]:
    """What a repair may take from the shelf: of each part the lots that have enough pieces.

    Empty for a repair that the family does not know.
    """
    entry = view.family.repairs.get(repair)
    pieces = []
    for part, count in entry.parts.items() if entry else ():
        title = view.family.parts[part].title
        # a lot that nobody is sure of may be taken by hand, although no estimate reckons with it
        offers = (*view.supply.offers.get(part, ()), *view.supply.unsure.get(part, ()))
        for offer in offers:
            if offer.lot is not None and offer.enough(count):
                words = f"{title}: {on_shelf(offer, count)}, {offer.source}"
                pieces.append(Piece(offer.lot, count, words, offer.held >= count))
    return tuple(pieces)


def origin_words(lot: Lot) -> str:
    """Where a lot is from: ``off a Taldera T8, job 9, good 9 times in 10``; empty if bought."""
    made = " ".join(text for text in (lot.maker, lot.model) if text)
    donor = f"off a {made or 'machine'}, job {lot.donor}" if lot.donor else ""
    fits = f"for {made}" if made and not lot.donor else ""
    # a new part is good; of a used one it is a belief of the day it came off
    good = "" if lot.good is None else f"good {out_of_ten(lot.good)}, to be tested before use"
    return ", ".join(text for text in (donor, fits, good) if text)


def movement_words(movement: Movement) -> str:
    """A movement in words, with its pieces: ``1 used for job 12``, ``counted: -2``."""
    job = f" for job {movement.job}" if movement.job else ""
    # a count changes what is known, not what lies there: it says the difference
    if movement.kind == "counted":
        return f"counted: {movement.pieces:+d}" if movement.pieces else "counted: right"
    if movement.kind == "moved":
        return f"moved to {movement.place}"
    if movement.kind == "undone":
        return f"movement {movement.undoes} undone{job}"
    # a reservation moves no piece, it only holds some
    count = abs(movement.pieces or movement.held)
    place = f", {movement.place}" if movement.kind == "received" and movement.place else ""
    return f"{count} {_VERBS[movement.kind]}{job}{place}"


def lot_label(workshop: Workshop, lot: Lot) -> Donor:
    """The label of a lot, as a donor with this one label: one template prints both."""
    place = f"Place {lot.place}" if lot.place else ""
    lines = tuple(line for line in (KINDS[lot.kind].capitalize(), origin_words(lot), place) if line)
    settings = workshop.settings()
    label = Label(workshop.families.title_of(lot.family, lot.item), lines)
    return Donor(settings.workshop_name, lot.number, settings.currency, (), (), (label,))
