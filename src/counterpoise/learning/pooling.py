"""Shares of many workshops: how alike they are, what they say together, and who does not fit.

Each workshop W gives counts of one figure: ``yes`` (W,) of ``of`` (W,) cases. Workshops differ, so
a share is drawn for each from one Beta law, of which mean and spread are estimated (beta-binomial).
Counts come rounded by chance to multiples of :data:`STEP`, and that noise is allowed for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln, gammaln
from scipy.stats import beta

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Counts are multiples of this: none says that there were one to four (docs/learning.md).
STEP = 5
# Two workshops cannot show how far workshops differ.
LEAST_WORKSHOPS = 3
# However alike they seem, a share of theirs is never worth more jobs here than this (from memory).
MOST_WORTH = 400.0
# Of honest workshops no more than this part is left out by chance, whatever the number of figures.
ALARM = 1e-3
# A cell that lies nearer than this many standard deviations needs no exact tail.
_NEAR = 2.0


@dataclass(frozen=True, slots=True)
class Start:
    """What a share starts from here: ``mean``, worth so many jobs, by so many ``workshops``.

    ``records`` of others, who are no workshops of a pool, are in it too.
    """

    mean: float
    worth: float
    workshops: int
    records: int = 0

    def range(self, chance: float = 0.8) -> tuple[float, float]:
        """Central range that holds the share of one more workshop with this chance."""
        yes, no = self.mean * self.worth, (1.0 - self.mean) * self.worth
        low, high = (float(beta.ppf(0.5 + side * chance / 2.0, yes, no)) for side in (-1.0, 1.0))
        return low, high


def together(written: float, strength: float, yes: Floats, of: Floats) -> Start:
    """The share of one more workshop, from a ``written`` one worth ``strength`` jobs.

    ``yes`` (W,) and ``of`` (W,) are the counts of the others; ``of`` is above 0.
    """
    alike = _alike(strength, yes, of)
    # many jobs of one workshop say much of it and less of others: each adds no more than 1 / alike
    weight = 1.0 / (1.0 + (of - 1.0) * alike)
    known = strength + float(weight @ of)
    mean = (strength * written + float(weight @ yes)) / known
    worth = 1.0 / (alike + (1.0 - alike) / known)
    return Start(mean, float(np.clip(worth, strength, MOST_WORTH)), len(of))


def _alike(strength: float, yes: Floats, of: Floats) -> float:
    """Intraclass correlation: 0 where all workshops are the same, 1 where each is all or nothing.

    By moments, with the noise of rounding taken off; as the catalog has it where they are too few.
    """
    if len(of) < LEAST_WORKSHOPS:
        return 1.0 / (strength + 1.0)
    count, total = len(of), float(of.sum())
    mean = float(np.clip(yes.sum() / total, 1e-3, 1.0 - 1e-3))
    spread = mean * (1.0 - mean)
    between = float((yes**2 / of).sum()) - float(yes.sum()) ** 2 / total
    noise = float((_rounded_by(mean * of) / of).sum()) * (1.0 - 1.0 / count)
    rest = total - float((of**2).sum()) / total - (count - 1)
    # three workshops may seem alike by luck: the catalog's own doubt counts as so many of them
    seen = (between - noise - spread * (count - 1)) / max(spread * rest, 1e-9)
    prior = 1.0 / (strength + 1.0)
    mixed = (LEAST_WORKSHOPS * prior + count * max(seen, 0.0)) / (LEAST_WORKSHOPS + count)
    return float(np.clip(mixed, 1.0 / MOST_WORTH, 0.5))


def _rounded_by(expected: Floats) -> Floats:
    """(W,) variance that rounding by chance adds to counts expected so high."""
    # r (STEP - r) for a rest r; over all rests STEP^2 / 6
    return np.asarray(np.where(expected < STEP / 2, expected * (STEP - expected), STEP**2 / 6.0))


def tail(yes: float, of: float, law: Start) -> float:
    """Chance that counts as far out as these, to either side, come of a workshop like the others.

    A rounding step is granted towards the middle. Beta-binomial, exact.
    """
    most = round(of)
    counts = np.arange(most + 1.0)
    up, down = law.mean * law.worth, (1.0 - law.mean) * law.worth
    chances = np.exp(
        gammaln(most + 1.0) - gammaln(counts + 1.0) - gammaln(most - counts + 1.0)
        + betaln(counts + up, most - counts + down) - betaln(up, down)
    )  # fmt: skip
    # what was rounded may have been a step nearer
    low = float(chances[counts <= yes + STEP].sum())
    high = float(chances[counts >= yes - STEP].sum())
    return min(1.0, 2.0 * min(low, high))


def is_near(yes: float, of: float, law: Start) -> bool:
    """Whether counts lie so near to what is expected that their tail need not be worked out."""
    expected = of * law.mean
    spread = (expected * (1.0 - law.mean) * (law.worth + of) / (law.worth + 1.0)) ** 0.5
    # the variance of a beta-binomial law, whose tail costs a sum over all counts
    return bool(abs(yes - expected) <= _NEAR * spread + STEP)


__all__ = ["ALARM", "LEAST_WORKSHOPS", "STEP", "Start", "is_near", "tail", "together"]
