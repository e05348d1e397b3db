"""The stock of a workshop: pieces that come in, what they are used for, and what lies where."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, NotFoundError
from counterpoise.money.part_offers import QUALITIES
from counterpoise.workshop.jobs.suggestions import did_you_mean
from counterpoise.workshop.parts.prices import Price
from counterpoise.workshop.parts.stock import Lot, Move, Movement, Receipt

if TYPE_CHECKING:
    from counterpoise.workshop.billing.costing import Costing
    from counterpoise.workshop.parts.stock import StockBook
    from counterpoise.workshop.services.families import Families
    from counterpoise.workshop.services.jobs import Jobs
    from counterpoise.workshop.store.store import Store

# a finger too many on the keyboard, rather than a delivery
MOST_AT_ONCE = 1000
# an id as it is repeated in a message: a mistyped paste must not fill the page
_SHOWN = 60


@dataclass(frozen=True, slots=True)
class StockItem:
    """A part or assembly that lies on the shelf.

    ``pieces`` in all, ``free`` of them for nobody yet; ``places`` without repetition; ``kinds`` in
    the order new, pattern, used.
    """

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

    ``catalog_minor`` is the catalog's price of a new one in minor units, None for an assembly;
    ``used_minor`` of a used one, None where the catalog gives none.
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


class Stock:
    """The lots of a workshop; what comes in is checked by the catalog, what goes out by jobs."""

    def __init__(self, store: Store, families: Families, jobs: Jobs) -> None:
        self._store = store
        self._families = families
        self._jobs = jobs

    # --- read ---

    def book(self) -> StockBook:
        """All lots as they are now."""
        return self._store.stock.book()

    def movements(self, lots: Sequence[int]) -> tuple[Movement, ...]:
        """What happened to these lots, newest first; empty where nothing did."""
        return self._store.stock.movements(lots)

    def items(self) -> tuple[StockItem, ...]:
        """What lies on the shelf, sorted by title."""
        by_item: dict[tuple[str, str], list[Lot]] = {}
        for lot in self.book().lots:
            # empty lots are history; they show on the item's own sheet
            if lot.pieces:
                by_item.setdefault((lot.family, lot.item), []).append(lot)
        items = [self._item(*key, lots) for key, lots in by_item.items()]
        return tuple(sorted(items, key=lambda item: (item.title.casefold(), item.family)))

    def _item(self, family: str, item: str, lots: Sequence[Lot]) -> StockItem:
        kinds = {lot.kind for lot in lots}
        return StockItem(
            family=family,
            item=item,
            title=self._families.title_of(family, item),
            pieces=sum(lot.pieces for lot in lots),
            free=sum(lot.free for lot in lots),
            # each place once, in the order in which the lots came
            places=tuple(dict.fromkeys(lot.place for lot in lots if lot.place)),
            kinds=tuple(kind for kind in QUALITIES if kind in kinds),
            lots=tuple(lots),
        )

    def item(self, family: str, item: str) -> ItemSheet:
        """Everything known of a part or assembly, also of one the catalog no longer has.

        Raises NotFoundError where neither catalog nor shelf knows it.
        """
        lots = self.book().of(family, item)
        known = self._families.get(family)
        if not lots and not (known and (item in known.parts or item in known.assemblies)):
            parts = {*known.parts, *known.assemblies} if known else self._families
            named = item if known else family
            raise NotFoundError(
                f"There is no part {item[:_SHOWN]!r} for {family[:_SHOWN]!r}",
                remedy=did_you_mean(named[:_SHOWN], sorted(parts)),
            )
        part = known.parts.get(item) if known else None
        return ItemSheet(
            family=family,
            item=item,
            title=self._families.title_of(family, item),
            currency=self._store.settings.get().currency,
            # the book has them in order of arrival
            lots=lots[::-1],
            movements=self.movements([lot.number for lot in lots]),
            prices=self._store.prices.book().of(family, item),
            catalog_minor=part.price_minor if part else None,
            used_minor=part.used_minor if part else None,
        )

    def held_for(self, job: int) -> tuple[Lot, ...]:
        """The lots of which pieces are reserved for a job; empty where none are."""
        return tuple(lot for lot in self.book().lots if dict(lot.held).get(job, 0))

    # --- write ---

    def receive(self, receipt: Receipt, by: str) -> Lot:
        """Put pieces on the shelf and return their lot. Raises InputError."""
        return self.receive_all([receipt], by)[0]

    def receive_all(self, receipts: Sequence[Receipt], by: str) -> tuple[Lot, ...]:
        """Put pieces on the shelf, all of them or none; returns their lots. Raises InputError."""
        # all before any is stored: half a delivery would be counted twice when sent again
        checked = [self._checked(receipt) for receipt in receipts]
        numbers = self._store.stock.receive(checked, by)
        book = self.book()
        return tuple(book.lot(number) for number in numbers)

    def _checked(self, receipt: Receipt) -> Receipt:
        family = self._families.named(receipt.family)
        titles = {key: part.title for key, part in family.parts.items()}
        # a piece taken off may be an assembly that nobody sells; a part of that id goes first
        titles |= {
            key: entry.title for key, entry in family.assemblies.items() if key not in titles
        }
        item = receipt.item[:_SHOWN]
        if receipt.item not in titles:
            hint = did_you_mean(item, titles)
            raise InputError(f"item: there is no {item!r}", field="item", remedy=hint)
        if receipt.kind not in QUALITIES:
            raise InputError(
                f"kind: {receipt.kind[:40]!r} is none",
                field="kind",
                remedy="Say new, pattern or used",
            )
        if not 1 <= receipt.count <= MOST_AT_ONCE:
            raise InputError(
                f"count: {receipt.count} cannot be",
                field="count",
                remedy=f"Give 1 to {MOST_AT_ONCE}",
            )
        good = receipt.good
        # nan and infinity come in as JSON numbers do, and are no probabilities
        if good is not None and not (math.isfinite(good) and 0 <= good <= 1):
            raise InputError(
                "good: is no chance", field="good", remedy="Give 0 to 1, or leave it out"
            )
        return receipt

    def move(self, movement: Move, by: str, expected_last: int | None = None) -> Lot:
        """Put a movement down and return the lot as it is then.

        ``expected_last`` is the lot's last movement that the writer had seen. Raises InputError,
        NotFoundError, ConflictError.
        """
        # those two make or name a lot, which a move cannot
        if movement.kind in {"received", "undone"}:
            raise InputError(
                f"kind: {movement.kind} is saved otherwise",
                field="kind",
                remedy="Receive, or undo",
            )
        # giving back to the shelf is always right; taking from it for a closed job is a mix-up
        if movement.kind in {"reserved", "used"} and movement.job is not None:
            self._check_open(movement.job)
        self._store.stock.move([movement], by, expected_last)
        return self.book().lot(movement.lot)

    def undo(self, movement: int, by: str) -> Lot:
        """Undo a movement by its opposite and return the lot as it is then.

        Raises InputError, NotFoundError.
        """
        lot = self._store.stock.undo(movement, by)
        return self.book().lot(lot)

    def _check_open(self, job: int) -> None:
        if self._jobs.get(job).closed is not None:
            raise InputError(
                f"job: {job} is closed", field="job", remedy="Take back its closing entry first"
            )

    def put_on_shelf(
        self, number: int, counts: Mapping[str, int], place: str, by: str
    ) -> tuple[Lot, ...]:
        """Put pieces off a job's machine on the shelf as used parts; returns their lots.

        ``counts`` are pieces by item. How likely each is good is what is believed of the machine
        now; its maker and model go along. Raises InputError, NotFoundError.
        """
        # brings in the planner's side of the catalog, which no other movement needs
        from counterpoise.workshop.billing.donor_yield import assembly_yields
        from counterpoise.workshop.diagnosis.job_case import JobCase

        job = self._jobs.get(number)
        family, intake = self._families.named(job.intake.family), job.intake
        assemblies = assembly_yields(JobCase(job, family, self._store.settings.get()))
        good = {piece: assembly.good for assembly in assemblies for piece in assembly.pieces}
        if not counts:
            raise InputError("pieces: none is named", field="pieces", remedy="Tick what comes off")
        # checked as a whole before any piece is on the shelf
        receipts = []
        for item, count in counts.items():
            if item not in good:
                raise InputError(
                    f"pieces: this machine yields no {item[:_SHOWN]!r}",
                    field="pieces",
                    remedy=did_you_mean(item[:_SHOWN], good),
                )
            receipts.append(
                Receipt(
                    family.id, item, "used", count, place, maker=intake.maker, model=intake.model,
                    donor=number, good=round(good[item], 4),
                )
            )  # fmt: skip
        return self.receive_all(receipts, by)

    def reserve(self, job: int, costing: Costing, by: str) -> tuple[Lot, ...]:
        """Reserve what an estimate takes from the shelf and nobody holds for the job yet.

        All of it or nothing; returns the lots, empty where nothing was left to reserve. Raises
        InputError for a closed job, NotFoundError.
        """
        self._check_open(job)
        book = self.book()
        moves: list[Move] = []
        for count, offer in costing.needed.values():
            # to be ordered: nothing on the shelf could be kept for the job
            if offer.lot is None:
                continue
            lot = book.lot(offer.lot)
            # what was used on the job already is not needed a second time
            gone = dict(lot.held).get(job, 0) + dict(lot.used).get(job, 0)
            if count > gone:
                moves.append(Move(lot.number, "reserved", count - gone, job))
        self._store.stock.move(moves, by)
        book = self.book()
        return tuple(book.lot(move.lot) for move in moves)

    def release(self, job: int, by: str) -> None:
        """Let go of everything that is reserved for a job; no error where nothing is."""
        held = [(lot.number, dict(lot.held).get(job, 0)) for lot in self.book().lots]
        moves = [Move(lot, "released", count, job) for lot, count in held if count]
        self._store.stock.move(moves, by)
