"""A supplier's list as it was understood: its lines, and what is wrong with the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from counterpoise.money.order import Quality

# so many times the price that stood before is asked about, not refused: prices do change
_FAR = 5.0


@dataclass(frozen=True, slots=True)
class ListFormat:
    """What a sender says about a list where it is not plain; empty: found out from the list.

    ``columns`` by head or number from 1; ``separator``, ``encoding``; ``decimal``: the mark before
    the cents ("comma" or "point"). ``family``: the machines it is for, where ids of parts are known
    to several families.
    """

    # by our name: {"price": "4"} or {"price": "Listenpreis"}
    columns: Mapping[str, str] = field(default_factory=dict)
    separator: str = ""
    encoding: str = ""
    decimal: str = ""
    family: str = ""


@dataclass(frozen=True, slots=True)
class PriceLine:
    """A price: ``price_minor`` (minor units) for ``pack`` pieces of a part of ours.

    ``maker``: whose machines it fits, empty: any. ``lead_days`` is None where the list is silent.
    """

    line: int
    family: str
    part: str
    kind: Quality
    price_minor: int
    pack: int = 1
    # days until it comes
    lead_days: int | None = None
    maker: str = ""
    number: str = ""
    description: str = ""

    @property
    def same(self) -> tuple[str, ...]:
        """What makes two lines speak of the same thing: (family, part, kind, maker, number)."""
        # the supplier's number belongs to it: two qualities of one part are two things to buy
        return (self.family, self.part, self.kind, self.maker.casefold(), self.number.casefold())


@dataclass(frozen=True, slots=True)
class LineFault:
    """What is wrong with a line (its number from 1), in which column, and what to do about it."""

    line: int
    column: str
    what: str
    remedy: str


@dataclass(frozen=True, slots=True)
class ReadPriceList:
    """A list as it was understood.

    ``columns`` says which head was taken for which column. ``not_ours`` counts the lines without a
    part of ours, ``broken`` those with a fault. ``faults`` are the first so many of
    ``fault_count``.
    """

    encoding: str
    separator: str
    decimal: str
    columns: dict[str, str]
    lines: tuple[PriceLine, ...]
    faults: tuple[LineFault, ...]
    fault_count: int
    broken: int
    not_ours: int


def far_off(line: PriceLine, before_minor: float) -> bool:
    """Whether a price is so far from what stood before that the comma may have slipped.

    ``before_minor`` is the former price of one piece in minor units, 0: there was none.
    """
    each = line.price_minor / line.pack
    return before_minor > 0 and not 1 / _FAR <= each / before_minor <= _FAR
