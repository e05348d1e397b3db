"""Ways to get a part, and which of them a job takes: the cheapest that is allowed and enough.

Prices are integer minor units for a whole pack, before mark-up and tax. Nothing here knows a shelf
or a supplier.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from counterpoise.errors import InputError
from counterpoise.money.order import Quality

if TYPE_CHECKING:
    from collections.abc import Iterable

QUALITIES: tuple[Quality, ...] = ("new", "pattern", "used")


@dataclass(frozen=True, slots=True)
class Offer:
    """One way to get a part: ``price_minor`` for ``pack`` pieces from ``source``, as of day ``at``.

    ``place`` and ``lot`` are set where it lies on the shelf, ``count`` tells how many; None: as
    many as wanted. ``lead_days``: how long it takes to come, None where nobody knows.
    ``own_minor``: what a pack cost the workshop, where it is on the shelf and asked for at another
    price; ``held``: so many are reserved for this very job.
    """

    quality: Quality
    price_minor: int
    source: str
    at: str = ""
    pack: int = 1
    # a shelf has a count, a supplier has not
    count: int | None = None
    place: str = ""
    lot: int | None = None
    lead_days: int | None = None
    # the customer pays the list's price, the ledger counts what it cost
    own_minor: int | None = None
    held: int = 0

    def __post_init__(self) -> None:
        if self.price_minor < 0 or self.pack < 1 or (self.count is not None and self.count < 0):
            raise InputError(
                f"an offer of {self.source!r} is not possible as given", field="price_minor"
            )

    @property
    def each_minor(self) -> Fraction:
        """The exact price of one."""
        # exact: three of a pack of seven must not lose a unit each
        return Fraction(self.price_minor, self.pack)

    @property
    def to_the_workshop(self) -> Offer:
        """The same at what it cost the workshop."""
        # for the ledger; the offer that the customer was shown stays as it was
        return self if self.own_minor is None else replace(self, price_minor=self.own_minor)

    def enough(self, count: int) -> bool:
        """Whether there are so many of it."""
        return self.count is None or self.count >= count

    def bought(self, count: int) -> int:
        """How many are bought to have ``count``: whole packs."""
        # the rest of the last pack goes on the shelf, but it is paid for
        return self.pack * math.ceil(count / self.pack)

    def total_minor(self, count: int) -> int:
        """What ``count`` cost, in whole packs."""
        return self.price_minor * math.ceil(count / self.pack)


def cheapest(
    offers: Iterable[Offer], count: int, allowed: Iterable[Quality] = QUALITIES
) -> Offer | None:
    """The cheapest offer that is allowed and enough for ``count`` pieces, None where there is none.

    Pieces of one part come from one offer: a pair of springs is no pair where one is new. What is
    reserved for the job goes first. Of equal ones that on the shelf goes before one to be ordered,
    then the better quality, then the one that was named first.
    """
    # a customer must have agreed to used parts; then they are among the allowed
    wanted = set(allowed)
    fitting = [offer for offer in offers if offer.quality in wanted and offer.enough(count)]

    def rank(offer: Offer) -> tuple[bool, int, bool, int]:
        return (
            # False sorts first: what is reserved for this job is taken before anything is bought
            offer.held < count,
            offer.total_minor(count),
            # on the shelf before to be ordered: no waiting
            offer.lot is None,
            QUALITIES.index(offer.quality),
        )

    # min keeps the first of equals, which is the order in which they were named
    return min(fitting, key=rank, default=None)


def share_of_worth(on_shelf: int, plenty: int) -> float:
    """Share of its worth one more piece has: 1 with none on the shelf, linear to 0 at ``plenty``.

    ``plenty`` of 0 switches the rule off. A rule of thumb (from memory), not a model of demand.
    """
    if on_shelf < 0 or plenty < 0:
        raise InputError("pieces cannot be below zero", field="plenty", remedy="Give 0 or more")
    # linear is the least that says: the tenth used pump sells worse than the first
    return max(0.0, 1.0 - on_shelf / plenty) if plenty else 1.0
