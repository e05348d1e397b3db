"""What the parts of a job can be had for: in stock, by the suppliers' lists, else by the catalog.

A piece in stock costs what was paid for it (a donor's part nothing, unless its receipt says so): it
is there already. A customer is asked its asking price, else the catalog's price of a used part. A
piece that came off a machine is counted on for machines of the same maker only; others may fit, and
are kept apart.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field

from counterpoise.catalog.family import AssemblyEntry, Family, PartEntry
from counterpoise.money.order import Part, Quality
from counterpoise.money.part_offers import Offer, cheapest
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.prices import Price, PriceBook
from counterpoise.workshop.parts.stock import Lot, StockBook

# where a price comes from is said on every estimate
CATALOG = "catalog"
Offers = Mapping[str, tuple[Offer, ...]]


@dataclass(frozen=True)
class Supply:
    """The offers for each part by its id.

    ``allowed``: the kinds of parts that go into this machine without asking. ``taken``: pieces that
    went into this job already; ``unsure``: pieces in stock that came off another maker's machine;
    ``on_shelf``: used pieces that are free, by item; ``held``: pieces reserved for this job.
    """

    offers: Offers = field(default_factory=dict)
    allowed: frozenset[Quality] = frozenset({"new"})
    taken: Offers = field(default_factory=dict)
    unsure: Offers = field(default_factory=dict)
    on_shelf: Mapping[str, int] = field(default_factory=dict)
    held: Mapping[str, int] = field(default_factory=dict)

    @property
    def fingerprint(self) -> Hashable:
        """A key that is the same where nothing that an assessment depends on has changed."""
        # a reservation changes what is left for others, not what this job's parts cost
        return repr((self.offers, sorted(self.allowed), self.unsure, sorted(self.on_shelf.items())))

    def best(self, part: PartEntry, count: int, allowed: Iterable[Quality] | None = None) -> Offer:
        """The cheapest offer that is allowed and enough for ``count`` pieces.

        The catalog's price of a new one where there is none. ``allowed`` None: what the machine
        takes without asking.
        """
        # None, not empty: somebody may ask what it costs with no kind allowed
        wanted = self.allowed if allowed is None else allowed
        offer = cheapest(self.offers.get(part.id, ()), count, wanted)
        return offer or Offer("new", part.price_minor, CATALOG)

    def bought(self, part: PartEntry, count: int) -> Offer:
        """The cheapest new one that would be bought if nothing lay on the shelf."""
        # what a used part saves is reckoned against buying new, not against another used one
        ordered = [o for o in self.offers.get(part.id, ()) if o.quality == "new" and o.lot is None]
        return cheapest(ordered, count) or Offer("new", part.price_minor, CATALOG)


NO_SUPPLY = Supply()


@dataclass(frozen=True)
class PartChoice:
    """What somebody chose for an estimate.

    ``used`` parts wherever they can be had, ``kinds`` of single parts by id. A part that nobody
    chose for is the cheapest this machine allows.
    """

    supply: Supply = NO_SUPPLY
    used: bool = False
    kinds: Mapping[str, Quality] = field(default_factory=dict)

    def offer(self, part: PartEntry, count: int) -> Offer:
        """What counts: the piece that went in already, else as chosen, else the cheapest."""
        # what is in the machine already is paid for: its price no longer depends on a choice
        gone = cheapest(self.supply.taken.get(part.id, ()), count)
        return gone or self._chosen(part, count) or self.supply.best(part, count)

    def _chosen(self, part: PartEntry, count: int) -> Offer | None:
        kind = self.kinds.get(part.id, "used" if self.used else None)
        return None if kind is None else next(iter(self.of_kind(part, count, kind)), None)

    def of_kind(self, part: PartEntry, count: int, kind: Quality) -> tuple[Offer, ...]:
        """The offers of one kind that are enough, the cheapest first.

        The catalog's where nobody else has one; empty where nobody has it of that kind.
        """
        # pieces held for the job go first, then what is on the shelf before what must be ordered
        known = sorted(
            (
                o
                for o in self.supply.offers.get(part.id, ())
                if o.quality == kind and o.enough(count)
            ),
            key=lambda offer: (offer.held < count, offer.total_minor(count), offer.lot is None),
        )
        # the catalog knows prices of new and used parts only
        if known or kind == "pattern":
            return tuple(known)
        price = part.price_minor if kind == "new" else part.used_minor
        return () if price is None else (Offer(kind, price, CATALOG),)


@dataclass(frozen=True)
class PartSources:
    """Where parts come from: the prices that stand, and the stock."""

    prices: PriceBook
    stock: StockBook

    def supply(self, family: Family, settings: Settings, job: Job) -> Supply:
        """What the parts of this job can be had for, prices in minor units."""
        asker = _Asker(family, job)
        lots = [
            lot for lot in self.stock.lots if lot.family == family.id and lot.item in family.parts
        ]
        # by part, so that a part no list names still has the catalog's price
        listed = asker.listed(self.prices.standing(family.id))
        # a part off another maker's machine may fit; somebody has to look before it counts
        sure = _by_item(
            (lot.item, asker.offer(lot, lot.free_for(job.number)))
            for lot in lots
            if asker.sure(lot)
        )
        # also of lots that are empty now
        taken = [(lot, dict(lot.used).get(job.number, 0)) for lot in lots]
        unsure = [lot for lot in lots if not asker.sure(lot)]
        return Supply(
            offers={key: (*listed[key], *sure.get(key, ())) for key in family.parts},
            allowed=allowed(settings, job),
            taken=_by_item((lot.item, asker.offer(lot, count)) for lot, count in taken),
            unsure=_by_item(
                (lot.item, asker.offer(lot, lot.free_for(job.number))) for lot in unsure
            ),
            on_shelf=on_shelf(self.stock, family.id),
            held=_held(lots, job.number),
        )


def allowed(settings: Settings, job: Job) -> frozenset[Quality]:
    """The kinds of parts that go into the machine of this job without asking; never empty."""
    # said at intake or by accepting a quote: either is a yes
    agreed = job.intake.used_parts or (job.decision is not None and job.decision.used_parts)
    used = settings.used_own if job.intake.owner == "workshop" else settings.used_customer or agreed
    # a new part needs nobody's leave
    wanted: dict[Quality, bool] = {"new": True, "pattern": settings.pattern_parts, "used": used}
    return frozenset(kind for kind, into in wanted.items() if into)


def bare_parts(family: Family) -> tuple[Part, ...]:
    """The parts of a family by how they are renewed, without prices."""
    return tuple(
        Part(p.id, p.title, once=not p.each, with_parts=p.with_parts, rule=p.rule)
        for p in family.parts.values()
    )


def pieces_of(family: Family, assembly: AssemblyEntry) -> tuple[str, ...]:
    """What an assembly is put in stock as, by id: its parts that can be had used, else itself.

    A part of the assembly's own name is all of it.
    """
    parts = [
        part
        for part in family.parts.values()
        if part.assembly == assembly.id and part.used_minor is not None
    ]
    # the pump assembly is the pump: one piece on the shelf, not two
    whole = [part.id for part in parts if part.title.casefold() == assembly.title.casefold()]
    return tuple(whole or [part.id for part in parts] or [assembly.id])


def complete_assemblies(family: Family, assembly: AssemblyEntry, stocked: Mapping[str, int]) -> int:
    """How many of an assembly lie in stock, all its pieces; 0 where ``stocked`` is empty."""
    # a rotor without its stator is no motor
    return min(stocked.get(piece, 0) for piece in pieces_of(family, assembly)) if stocked else 0


def on_shelf(book: StockBook, family: str) -> dict[str, int]:
    """How many used pieces of each item lie there for nobody in particular; empty for none."""
    free: dict[str, int] = {}
    for lot in book.lots:
        if lot.family == family and lot.kind == "used":
            free[lot.item] = free.get(lot.item, 0) + lot.free
    return free


@dataclass(frozen=True)
class _Asker:
    """The job that asks: whose machine it is, and of which maker."""

    family: Family
    job: Job

    @property
    def maker(self) -> str:
        return self.job.intake.maker.strip().casefold()

    def sure(self, lot: Lot) -> bool:
        """Whether a lot surely fits."""
        # a part bought for no maker in particular fits them all
        return lot.maker.casefold() in {"", self.maker}

    def offer(self, lot: Lot, count: int) -> Offer:
        """A lot as an offer of ``count`` pieces."""
        made = " ".join(text for text in (lot.maker, lot.model) if text)
        # as it reads on an estimate: "off a Taldera T8, job 12"
        off = (
            f"off a {made or 'machine'}, job {lot.donor}"
            if lot.donor
            else f"for {made}"
            if made
            else "shelf"
        )
        return Offer(
            quality=lot.kind,
            price_minor=self._price(lot),
            source=off,
            at=lot.at[:10],
            pack=1,
            count=count,
            place=lot.place,
            lot=lot.number,
            lead_days=0,
            own_minor=lot.cost_minor,
            held=dict(lot.held).get(self.job.number, 0),
        )

    def _price(self, lot: Lot) -> int:
        # the workshop sells nothing to itself
        if self.job.intake.owner == "workshop":
            return lot.cost_minor
        # a price somebody put on it goes before any rule
        if lot.asked_minor is not None:
            return lot.asked_minor
        used = self.family.parts[lot.item].used_minor if lot.kind == "used" else None
        return lot.cost_minor if used is None else used

    def listed(self, standing: Iterable[Price]) -> dict[str, list[Offer]]:
        """What the suppliers ask; for a part they do not sell new, the catalog's price too."""
        named: dict[str, dict[bool, list[Offer]]] = {
            key: {True: [], False: []} for key in self.family.parts
        }
        for price in standing:
            line = price.line
            # lists are older than the catalog: a part may be gone from it
            if line.part in named and line.maker.strip().casefold() in {"", self.maker}:
                named[line.part][bool(line.maker.strip())].append(_ordered(price))
        return {key: self._settled(self.family.parts[key], offers) for key, offers in named.items()}

    @staticmethod
    def _settled(part: PartEntry, named: dict[bool, list[Offer]]) -> list[Offer]:
        """Prices for this very maker (True) go before those for any (False), kind by kind."""
        # a maker's own price says more than one for any machine, dearer or not
        own = {offer.quality for offer in named[True]}
        offers = [*named[True], *(offer for offer in named[False] if offer.quality not in own)]
        # there must be a way to buy it new: the estimate falls back on that
        new = any(offer.quality == "new" for offer in offers)
        return offers if new else [Offer("new", part.price_minor, CATALOG), *offers]


def _held(lots: Iterable[Lot], job: int) -> dict[str, int]:
    held: dict[str, int] = {}
    for lot in lots:
        count = dict(lot.held).get(job, 0)
        if count:
            held[lot.item] = held.get(lot.item, 0) + count
    return held


def _ordered(price: Price) -> Offer:
    line = price.line
    return Offer(
        line.kind,
        line.price_minor,
        price.supplier,
        price.at[:10],
        line.pack,
        lead_days=line.lead_days,
    )


def _by_item(offers: Iterable[tuple[str, Offer]]) -> dict[str, tuple[Offer, ...]]:
    by_item: dict[str, tuple[Offer, ...]] = {}
    for item, offer in offers:
        if offer.count:
            by_item[item] = (*by_item.get(item, ()), offer)
    return by_item
