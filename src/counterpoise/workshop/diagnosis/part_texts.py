"""What is said of the parts of a repair: what to have ready, and where it lies."""

from __future__ import annotations

from counterpoise.catalog.family import Family, PartEntry, RepairEntry
from counterpoise.money.part_offers import Offer, cheapest
from counterpoise.workshop.diagnosis.phrases import amount
from counterpoise.workshop.parts.offers import CATALOG, Supply

_SINGULAR = {"new": "a new one", "pattern": "one to pattern", "used": "a used one"}
_PLURAL = {"new": "new ones", "pattern": "ones to pattern", "used": "used ones"}


def ready_lines(family: Family, repair: RepairEntry, supply: Supply) -> tuple[str, ...]:
    """The parts to have ready, then where those on the shelf lie; empty without parts."""
    if not repair.parts:
        return ()
    parts = ", ".join(f"{count} x {family.parts[key].title}" for key, count in repair.parts.items())
    # after the list, one line each: what to fetch from the shelf instead of ordering it
    notes = (
        shelf_note(family, family.parts[key], count, supply) for key, count in repair.parts.items()
    )
    return (f"Have ready: {parts}.", *(note for note in notes if note))


def shelf_note(family: Family, part: PartEntry, count: int, supply: Supply) -> str:
    """Where a part lies on the shelf and what it saves; empty where none does.

    A used part that needs the customer's word is named with that condition; one that may not fit
    comes last.
    """
    # a lot number means that it lies here: no need to order
    best = supply.best(part, count)
    if best.lot is not None:
        cheaper = best.total_minor(count) < supply.bought(part, count).total_minor(count)
        saving = f", {saving_text(family, part, count, supply, best)}" if cheaper else ""
        return f"{part.title}: {on_shelf(best, count)}{saving}."
    shelved = [offer for offer in supply.offers.get(part.id, ()) if offer.lot is not None]
    # a used part may be there that this customer has not agreed to
    other = cheapest(shelved, count)
    if other is not None and other.quality not in supply.allowed:
        saves = saving_text(family, part, count, supply, other)
        return f"{part.title}: {on_shelf(other, count)}, {saves}, if the customer agrees to it."
    unsure = cheapest(supply.unsure.get(part.id, ()), count)
    if unsure is not None:
        return (
            f"{part.title}: {on_shelf(unsure, count)}, {unsure.source}: it may fit,"
            " hold it beside the old one."
        )
    return ""


def provenance(offer: Offer) -> str:
    """Where a price is from: ``catalog``, ``Nordlicht, 2026-03-05``, ``on the shelf (B2)``."""
    if offer.lot is not None:
        return f"on the shelf{f' ({offer.place})' if offer.place else ''}"
    return offer.source if offer.source == CATALOG else f"{offer.source}, {offer.at}"


def on_shelf(offer: Offer, count: int) -> str:
    """Where an offer of ``count`` pieces lies, in words: ``a used one is on the shelf (B2)``."""
    place = f" ({offer.place})" if offer.place else ""
    if count == 1:
        return f"{_SINGULAR[offer.quality]} is on the shelf{place}"
    return f"{count} {_PLURAL[offer.quality]} are on the shelf{place}"


def saving_text(family: Family, part: PartEntry, count: int, supply: Supply, offer: Offer) -> str:
    """What an offer saves over buying, in words: ``0.00 EUR instead of 38.00 EUR``."""
    bought = supply.bought(part, count).total_minor(count)
    price = amount(offer.total_minor(count), family.currency)
    return f"{price} instead of {amount(bought, family.currency)}"
