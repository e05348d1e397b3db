"""Is what was learned any good: what was foretold, each job from those before, and what happened.

Scores are logs (natural) of the probability given to what happened: nearer to 0 is better.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Fewer jobs than this tell nothing of a difference (from memory).
LEAST_JOBS = 20
# A difference below so many of its errors is no difference.
CLEARLY = 2.0
EDGES = (0.0, 0.05, 0.15, 0.35, 0.65, 1.0)


@dataclass(frozen=True, slots=True)
class Difference:
    """How much better jobs were foretold by the learned figures: mean a job, and its error."""

    jobs: int
    mean: float
    error: float

    @property
    def too_few(self) -> bool:
        """Whether there are too few jobs to say anything."""
        return self.jobs < LEAST_JOBS

    @property
    def verdict(self) -> str:
        """``better``, ``worse``, or ``no difference``; ``too few`` where nothing can be said."""
        if self.too_few:
            return "too few"
        if abs(self.mean) < CLEARLY * self.error:
            return "no difference"
        return "better" if self.mean > 0 else "worse"


@dataclass(frozen=True, slots=True)
class Bin:
    """Chances said between ``low`` and ``high``: how many, their mean, how often it happened."""

    low: float
    high: float
    count: int
    said: float
    happened: float


def difference(learned: Floats, written: Floats) -> Difference:
    """The learned log scores (J,) less the written ones (J,), a job."""
    apart = learned - written
    # one job has no spread to tell an error from
    error = float(apart.std(ddof=1)) / len(apart) ** 0.5 if len(apart) > 1 else float("inf")
    return Difference(len(apart), float(apart.mean()) if len(apart) else 0.0, error)


def reliability(said: Floats, happened: Floats) -> tuple[Bin, ...]:
    """Chances (M,) said beside how often it (M,) happened, by how likely; empty bins left out."""
    place = np.digitize(said, EDGES[1:-1])
    return tuple(
        Bin(low, high, int(here.sum()), float(said[here].mean()), float(happened[here].mean()))
        for i, (low, high) in enumerate(pairwise(EDGES))
        for here in (place == i,)
        if here.any()
    )
