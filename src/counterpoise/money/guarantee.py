"""What a guarantee costs the workshop, and what can be given for what price.

A repaired machine comes back in two ways: the repair did not hold (settled at the handing over, it
shows early, at a constant rate), or something else failed, which the workshop mends too where it
covers the machine. Each comeback is mended to as good as just before, so failures of ageing follow
the cumulative hazard (minimal repair).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.money.life import Weibull

# five years: beyond, the law of lives is a guess of its own (from memory)
_LONGEST_MONTHS = 60


@dataclass(frozen=True, slots=True)
class Cover:
    """What a guarantee on one repair has to reckon with; money in minor units.

    ``returns``: chance that this repair ever proves not to have held; ``shows_months``: mean time
    until it shows. ``life`` and ``age_years``: of the repaired assembly, or of the machine where
    all is covered (None: only the repair itself). ``margin_percent``: what the workshop adds for
    bearing the risk.
    """

    returns: float
    comeback_minor: float
    shows_months: float = 2.0
    life: Weibull | None = None
    age_years: float = 0.0
    failure_minor: float | None = None
    margin_percent: float = 25.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.returns <= 1.0:
            raise InputError(
                f"a chance of {self.returns}", field="returns", remedy="Give a chance from 0 to 1"
            )
        if (
            self.comeback_minor < 0
            or (self.failure_minor or 0) < 0
            or self.shows_months <= 0
            # a margin below zero would sell the guarantee for less than it costs
            or self.margin_percent < 0
        ):
            raise InputError(
                "costs, time and margin of a guarantee must not be negative", field="comeback_minor"
            )

    def held_not(self, months: float) -> float:
        """Chance that the repair shows within the time that it did not hold."""
        return -self.returns * math.expm1(-_checked(months) / self.shows_months)

    def failures(self, months: float) -> float:
        """Other failures to expect within the time."""
        return (
            0.0
            if self.life is None
            else self.life.cumulative_hazard(_checked(months) / 12.0, self.age_years)
        )

    def comes_back(self, months: float) -> float:
        """Chance of at least one comeback within the time."""
        return 1.0 - (1.0 - self.held_not(months)) * math.exp(-self.failures(months))

    def cost_minor(self, months: float) -> float:
        """Expected cost of all comebacks within the time."""
        # another failure costs what this comeback costs unless it is known better
        each = self.comeback_minor if self.failure_minor is None else self.failure_minor
        # expected counts, not chances: a second comeback is paid for as well
        return self.held_not(months) * self.comeback_minor + self.failures(months) * each

    def price_minor(self, months: float) -> int:
        """What to ask for the guarantee: expected cost and margin, rounded up."""
        # the tiny term: a cost that is whole but for binary noise must not cost a unit more
        return math.ceil(self.cost_minor(months) * (1.0 + self.margin_percent / 100.0) - 1e-9)

    def longest_months(self, price_minor: float) -> int:
        """Whole months that can be given for this price, up to five years."""
        return max(
            # the price grows with the months, so the largest that fits is the longest
            (m for m in range(_LONGEST_MONTHS + 1) if self.price_minor(m) <= price_minor),
            default=0,
        )


def _checked(months: float) -> float:
    if not 0.0 <= months < math.inf:
        raise InputError(f"a guarantee of {months} months", field="months", remedy="Give 0 or more")
    return months
