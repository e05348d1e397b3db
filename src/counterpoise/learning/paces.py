"""How long steps take this hand, and how much machines bring: ratios to a written figure.

A ratio (minutes taken to minutes written) is drawn from a Gamma law of known spread about an
unknown mean. The mean starts at the written figure, worth a number of observations, and is pulled
towards what this workshop needs for everything before it moves by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scipy.stats import gamma

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

# Spread of one timed step about its mean, as a share of it (from memory, as in estimates).
SPREAD = 0.3


@dataclass(frozen=True, slots=True)
class Pace:
    """The mean of a ratio: ``weight`` observations' worth of it, the figure's own included.

    ``total`` is their sum. The rate of the Gamma law of a ratio is itself Gamma: conjugate.
    """

    total: float
    weight: float
    spread: float = SPREAD

    def __post_init__(self) -> None:
        for name in ("total", "weight", "spread"):
            if not 0.0 < getattr(self, name) < float("inf"):
                raise InputError(
                    f"{name} is {getattr(self, name)}", field=name, remedy="Give a number above 0"
                )

    @classmethod
    def believed(cls, mean: float, weight: float, spread: float = SPREAD) -> Pace:
        """Start from a ratio that is worth ``weight`` observations."""
        return cls(mean * weight, weight, spread)

    def updated(self, total: float, count: float) -> Pace:
        """After ``count`` more ratios that sum to ``total``. Raises InputError below 0."""
        if total < 0 or count < 0:
            raise InputError("ratios below 0", field="total", remedy="Give ratios above 0")
        return Pace(self.total + total, self.weight + count, self.spread)

    @property
    def mean(self) -> float:
        """Expected ratio."""
        # the shape of one ratio is 1 / spread^2, and cancels in the mean
        return self.total / self.weight

    def range(self, chance: float = 0.8) -> tuple[float, float]:
        """Central range that holds the mean ratio with this chance."""
        shape = 1.0 / self.spread**2
        # rate ~ Gamma(shape * weight + 1, total); the mean ratio is shape / rate
        ends = (0.5 + chance / 2.0, 0.5 - chance / 2.0)
        low, high = (
            shape / float(gamma.ppf(end, shape * self.weight + 1.0, scale=1.0 / self.total))
            for end in ends
        )
        return low, high


def pooled(
    sums: Mapping[str, tuple[float, float]], *, hand: float, step: float, spread: float = SPREAD
) -> dict[str, Pace]:
    """The pace of each step from its (sum of ratios, how many), pulled to that of the whole hand.

    Written figure to hand: the pace over all steps starts at 1, worth ``hand`` observations, to
    which a step gives at most ``step``: one that is done often does not speak for all others.
    Hand to step: each step starts there, worth ``step``. Empty where nothing was timed.
    """
    total = count = 0.0
    for ratios, times in sums.values():
        share = min(1.0, step / times) if times > 0 else 0.0
        total, count = total + share * ratios, count + share * times
    whole = Pace.believed(1.0, hand, spread).updated(total, count)
    return {
        name: Pace.believed(whole.mean, step, spread).updated(ratios, times)
        for name, (ratios, times) in sums.items()
    }


__all__ = ["SPREAD", "Pace", "pooled"]
