"""The shelf in the workshop: what comes in is checked against the catalog, what goes out against jobs; shown by item."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError, NotFoundError
from counterpoise.money.part_offers import QUALITIES
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.donor_yield import yields
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.prices import Price
from counterpoise.workshop.parts.stock import Lot, Move, Movement, Receipt
from counterpoise.workshop.services.workshop import Workshop

MOST_AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Item:
    """An item of the shelf: what lies there. ``places`` without repetition; ``kinds`` in order new, pattern, used."""

    family: str
    item: str
    title: str
    pieces: int
    free: int
    places: tuple[str, ...]
    kinds: tuple[str, ...]
    lots: tuple[Lot, ...]


@dataclass(frozen=True, slots=True)
class ItemSheet:
    """Everything known of an item: its lots (empty ones too), movements and prices, newest first.

    ``catalog_minor`` is the catalog's price of a new one, None for an assembly; ``used_minor`` of a used one.
    """

    family: str
    item: str
    title: str
    currency: str
    lots: tuple[Lot, ...]
    movements: tuple[Movement, ...]
    prices: tuple[Price, ...]
    catalog_minor: int | None
    used_minor: int | None


def shelf(workshop: Workshop) -> tuple[Item, ...]:
    """What lies on the shelf, by title."""
    by_item: dict[tuple[str, str], list[Lot]] = {}
    for lot in workshop.stock.book().lots:
        if lot.pieces:
            by_item.setdefault((lot.family, lot.item), []).append(lot)
    found = [_item(workshop, *key, lots) for key, lots in by_item.items()]
    return tuple(sorted(found, key=lambda one: (one.title.casefold(), one.family)))


def _item(workshop: Workshop, family: str, item: str, lots: Sequence[Lot]) -> Item:
    kinds = {lot.kind for lot in lots}
    return Item(
        family, item, title_of(workshop.families, family, item), sum(lot.pieces for lot in lots),
        sum(lot.free for lot in lots), tuple(dict.fromkeys(lot.place for lot in lots if lot.place)),
        tuple(kind for kind in QUALITIES if kind in kinds), tuple(lots),
    )  # fmt: skip


def title_of(families: Mapping[str, Family], family: str, item: str) -> str:
    """The name of a part or assembly; its id where the catalog no longer has it."""
    known = families.get(family)
    entry = (known.parts.get(item) or known.assemblies.get(item)) if known else None
    return entry.title if entry else item


def item_sheet(workshop: Workshop, family: str, item: str) -> ItemSheet:
    """Everything known of an item. Raises NotFoundError."""
    lots = workshop.stock.book().of(family, item)
    known = workshop.families.get(family)
    if not lots and not (known and (item in known.parts or item in known.assemblies)):
        raise NotFoundError(f"There is no part {item[:60]!r} for {family[:60]!r}")
    part = known.parts.get(item) if known else None
    return ItemSheet(
        family, item, title_of(workshop.families, family, item), workshop.settings().currency, lots[::-1],
        workshop.stock.movements([lot.number for lot in lots]), workshop.prices.book().of(family, item),
        part.price_minor if part else None, part.used_minor if part else None,
    )  # fmt: skip


def receive(workshop: Workshop, receipt: Receipt, by: str) -> Lot:
    """Put pieces on the shelf and return their lot. Raises InputError, NotFoundError."""
    return receive_all(workshop, [receipt], by)[0]


def receive_all(workshop: Workshop, receipts: Sequence[Receipt], by: str) -> tuple[Lot, ...]:
    """Put pieces on the shelf, all of them or none."""
    numbers = workshop.stock.receive([_checked(workshop, receipt) for receipt in receipts], by)
    book = workshop.stock.book()
    return tuple(book.lot(number) for number in numbers)


def _checked(workshop: Workshop, receipt: Receipt) -> Receipt:
    family = workshop.family(receipt.family)
    known = {key: part.title for key, part in family.parts.items()}
    known |= {key: entry.title for key, entry in family.assemblies.items() if key not in known}
    if receipt.item not in known:
        hint = did_you_mean(receipt.item[:60], known)
        raise InputError(f"item: there is no {receipt.item[:60]!r}", field="item", remedy=hint)
    if receipt.kind not in QUALITIES:
        raise InputError(
            f"kind: {receipt.kind[:40]!r} is none", field="kind", remedy="Say new, pattern or used"
        )
    if not 1 <= receipt.count <= MOST_AT_ONCE:
        raise InputError(
            f"count: {receipt.count} cannot be", field="count", remedy=f"Give 1 to {MOST_AT_ONCE}"
        )
    if receipt.good is not None and not (math.isfinite(receipt.good) and 0 <= receipt.good <= 1):
        raise InputError("good: is no chance", field="good", remedy="Give 0 to 1, or leave it out")
    return receipt


def move(workshop: Workshop, told: Move, by: str, expected_last: int | None = None) -> Lot:
    """Put a movement down and return the lot as it is then. Raises InputError, NotFoundError, ConflictError."""
    if told.kind in {"received", "undone"}:
        raise InputError(
            f"kind: {told.kind} is put down otherwise", field="kind", remedy="Receive, or undo"
        )
    if told.kind in {"reserved", "used"} and told.job is not None:
        _open(workshop, told.job)
    workshop.stock.move([told], by, expected_last)
    return workshop.stock.book().lot(told.lot)


def undo(workshop: Workshop, movement: int, by: str) -> Lot:
    """Undo a movement by its opposite and return the lot as it is then. Raises InputError, NotFoundError."""
    lot = workshop.stock.undo(movement, by)
    return workshop.stock.book().lot(lot)


def _open(workshop: Workshop, job: int) -> None:
    if workshop.jobs.get(job).closed is not None:
        raise InputError(
            f"job: {job} is closed", field="job", remedy="Take back its closing entry first"
        )


def shelve(
    workshop: Workshop, job: int, counts: Mapping[str, int], place: str, by: str
) -> tuple[Lot, ...]:
    """Put pieces off a job's machine on the shelf as used parts. ``counts`` by item. Raises InputError.

    How likely each is good is what is believed of the machine now; its maker and model go along.
    """
    found = workshop.jobs.get(job)
    family, intake = workshop.family(found.intake.family), found.intake
    good = {
        piece: one.good
        for one in yields(family, workshop.settings(), found)
        for piece in one.pieces
    }
    if not counts:
        raise InputError("pieces: none is named", field="pieces", remedy="Tick what comes off")
    receipts = []
    for item, count in counts.items():
        if item not in good:
            hint = did_you_mean(item[:60], good)
            raise InputError(
                f"pieces: this machine yields no {item[:60]!r}", field="pieces", remedy=hint
            )
        receipts.append(
            Receipt(family.id, item, "used", count, place, maker=intake.maker, model=intake.model, donor=job,
                    good=round(good[item], 4))
        )  # fmt: skip
    return receive_all(workshop, receipts, by)


def reserve_work(workshop: Workshop, job: int, costing: Costing, by: str) -> tuple[Lot, ...]:
    """Reserve for a job what its estimate takes from the shelf and nobody holds for it yet; all of it or nothing."""
    _open(workshop, job)
    book = workshop.stock.book()
    moves: list[Move] = []
    for count, offer in costing.needed.values():
        if offer.lot is None:
            continue
        lot = book.lot(offer.lot)
        gone = dict(lot.held).get(job, 0) + dict(lot.used).get(job, 0)
        if count > gone:
            moves.append(Move(lot.number, "reserved", count - gone, job))
    workshop.stock.move(moves, by)
    book = workshop.stock.book()
    return tuple(book.lot(told.lot) for told in moves)


def release_work(workshop: Workshop, job: int, by: str) -> None:
    """Let go of everything that is reserved for a job."""
    held = [(lot.number, dict(lot.held).get(job, 0)) for lot in workshop.stock.book().lots]
    workshop.stock.move([Move(lot, "released", count, job) for lot, count in held if count], by)


def held_for(workshop: Workshop, job: int) -> tuple[Lot, ...]:
    """The lots of which pieces are reserved for a job."""
    return tuple(lot for lot in workshop.stock.book().lots if dict(lot.held).get(job, 0))
