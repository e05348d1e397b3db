"""Prices of suppliers' lists as plain records: what each list gave, and what stands today."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.workshop.parts.price_list import PriceLine


@dataclass(frozen=True, slots=True)
class PriceList:
    """A list that was taken in. ``whole``: it replaced the supplier's former lists; ``gone``: it was taken back."""

    number: int
    at: str
    by: str
    supplier: str
    file: str
    whole: bool
    lines: int
    left_out: int
    gone: bool = False


@dataclass(frozen=True, slots=True)
class Price:
    """A price of a list. ``stands``: it holds today."""

    list: int
    at: str
    supplier: str
    line: PriceLine
    stands: bool


@dataclass(frozen=True)
class PriceBook:
    """All lists and their prices, oldest first, as the store had them when ``mark`` was its last list."""

    mark: int
    lists: tuple[PriceList, ...] = ()
    prices: tuple[Price, ...] = ()

    def standing(self, family: str) -> tuple[Price, ...]:
        """The prices that hold today for one family."""
        return tuple(price for price in self.prices if price.stands and price.line.family == family)

    def of(self, family: str, part: str) -> tuple[Price, ...]:
        """Every price a part has had, newest first."""
        return tuple(
            p for p in reversed(self.prices) if (p.line.family, p.line.part) == (family, part)
        )

    def known_numbers(self, supplier: str) -> dict[str, tuple[str, str]]:
        """The supplier's own numbers, small, and the parts of ours they stood for."""
        told = [
            price.line for price in self.prices if price.supplier == supplier and price.line.number
        ]
        return {line.number.casefold(): (line.family, line.part) for line in told}

    def before(self, supplier: str) -> dict[tuple[str, ...], PriceLine]:
        """What stands of one supplier, by what the lines speak of."""
        return {p.line.same: p.line for p in self.prices if p.stands and p.supplier == supplier}
