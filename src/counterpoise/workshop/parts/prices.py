"""Prices of suppliers' lists as plain records: what each list gave, and what stands today."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.workshop.parts.price_list import PriceLine


@dataclass(frozen=True, slots=True)
class PriceList:
    """A list that was taken in at ``at`` (UTC, ISO 8601).

    ``whole``: it replaced the supplier's former lists; ``lines`` and ``left_out`` count its lines;
    ``gone``: it was taken back.
    """

    number: int
    at: str
    by: str
    supplier: str
    file: str
    whole: bool
    lines: int
    # lines with faults that somebody chose to take the list in without
    left_out: int
    gone: bool = False


@dataclass(frozen=True, slots=True)
class Price:
    """A price of a list taken in at ``at`` (UTC, ISO 8601). ``stands``: it holds today."""

    list: int
    at: str
    supplier: str
    line: PriceLine
    stands: bool


@dataclass(frozen=True)
class PriceBook:
    """All lists and their prices, oldest first; ``mark`` is the number of the store's last list."""

    mark: int
    lists: tuple[PriceList, ...] = ()
    prices: tuple[Price, ...] = ()

    def standing(self, family: str) -> tuple[Price, ...]:
        """The prices that hold today for one family; empty where no list names it."""
        # a price of another family's part of the same id is another price
        # newest first: the page shows what a part costs now at the top
        return tuple(price for price in self.prices if price.stands and price.line.family == family)

    def of(self, family: str, part: str) -> tuple[Price, ...]:
        """Every price a part has had, newest first; empty where no list names it."""
        return tuple(
            p for p in reversed(self.prices) if (p.line.family, p.line.part) == (family, part)
        )

    def known_numbers(self, supplier: str) -> dict[str, tuple[str, str]]:
        """The supplier's own numbers, small, with the (family, part) of ours they stood for."""
        numbered = [
            price.line for price in self.prices if price.supplier == supplier and price.line.number
        ]
        # oldest first, so that what a newer list says of a number holds
        return {line.number.casefold(): (line.family, line.part) for line in numbered}

    def before(self, supplier: str) -> dict[tuple[str, ...], PriceLine]:
        """What stands of one supplier, by what the lines speak of (:attr:`PriceLine.same`).

        Empty for a supplier whose first list it is.
        """
        return {p.line.same: p.line for p in self.prices if p.stands and p.supplier == supplier}
