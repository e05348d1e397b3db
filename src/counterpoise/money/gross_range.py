"""The range of an estimate: the gross as a mixture of normal laws, one per set of surprises."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scipy.stats import norm

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from counterpoise.money.estimate_lines import DraftLine
    from counterpoise.money.order import Charges, Order, Worse

# every subset of the surprises is one component: 2 to the power of this many at most
_MOST_WORSE = 10
# relative standard deviation of labour and price of what turns up on the way (from memory)
_LABOUR_SPREAD, _PRICE_SPREAD = 0.3, 0.1


def _factor(charges: Charges) -> float:
    """Turn a charge before the discount in per cent into a gross."""
    # included tax is in the rate already
    tax = charges.tax_percent if charges.tax_mode == "added" else 0.0
    return (1.0 - charges.discount_percent / 100.0) * (1.0 + tax / 100.0)


def surprise_cost(worse: Worse, charges: Charges) -> tuple[float, float]:
    """Gross labour and parts that it adds if it turns up."""
    markup = 1.0 + charges.markup_percent / 100.0
    factor = _factor(charges)
    # apart, since hours err more than prices
    return factor * charges.hourly_minor / 60.0 * worse.minutes, factor * markup * worse.parts_minor


@dataclass(frozen=True, slots=True)
class GrossRange:
    """The gross as a mixture of normal laws (weight, mean, sd), one per set of surprises."""

    parts: tuple[tuple[float, float, float], ...]

    @classmethod
    def of(cls, gross: int, drafts: list[DraftLine], order: Order, charges: Charges) -> GrossRange:
        """Mix the surprises of an order. Raises InputError where there are too many of them."""
        if len(order.worse) > _MOST_WORSE:
            raise InputError(
                f"more than {_MOST_WORSE} things that may turn out worse",
                field="worse",
                remedy="Name the likeliest",
            )
        # lines err independently of each other: variances add up
        base = sum((_factor(charges) * draft.sd) ** 2 for draft in drafts)
        amounts = [surprise_cost(worse, charges) for worse in order.worse]
        parts = []
        for happened in itertools.product((False, True), repeat=len(order.worse)):
            # surprises are independent of each other: their chances multiply
            weight, mean, variance = 1.0, float(gross), base
            for worse, (labour, price), is_so in zip(order.worse, amounts, happened, strict=True):
                weight *= worse.chance if is_so else 1.0 - worse.chance
                mean += is_so * (labour + price)
                variance += is_so * ((_LABOUR_SPREAD * labour) ** 2 + (_PRICE_SPREAD * price) ** 2)
            # a surprise of chance 0 or 1 leaves half of the components empty
            if weight > 0.0:
                parts.append((weight, mean, math.sqrt(variance)))
        return cls(tuple(parts))

    def mean(self) -> float:
        """Expected gross in minor units."""
        return sum(weight * mean for weight, mean, _ in self.parts)

    def above(self, value: float) -> float:
        """Probability of more than ``value`` minor units."""
        return float(
            sum(
                # without spread the law is a step at its mean
                w * (norm.sf((value - m) / sd) if sd else float(m > value))
                for w, m, sd in self.parts
            )
        )

    def quantile(self, chance: float) -> float:
        """Gross in minor units that is not exceeded with probability ``chance``."""
        # nine standard deviations hold all but 1e-18 of every component
        low = min(mean - 9.0 * sd for _, mean, sd in self.parts)
        high = max(mean + 9.0 * sd for _, mean, sd in self.parts)
        # a mixture has no inverse in closed form
        return _bisect(lambda value: self.above(value) <= 1.0 - chance, low, high)


def _bisect(reached: Callable[[float], bool], low: float, high: float) -> float:
    """Find the least value that is ``reached``, to a thousandth of a minor unit."""
    if reached(low):
        return low
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high
