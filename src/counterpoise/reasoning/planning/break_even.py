"""Where a choice between two ways of going on would turn, as one figure moves and all else stays.

Both ways are held fixed as they are planned now. The worth of a fixed way is linear in the weights of the belief and
affine in every cost and value, so the point where two of them are worth the same is exact. (If a figure really moved
that far, one would plan anew; the better of two fixed ways can only gain by that.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Floats

FLAT = 1e-12


def break_even_probability(prior: Floats, lead: Floats, present: NDArray[np.bool_]) -> float | None:
    """The chance of a fault at which the lead of one way over another is gone; None where no chance does that.

    ``prior`` (H,) is the belief; ``lead`` (H,) what one way earns more than the other in each set of faults, times its
    belief; ``present`` (H,) where the fault is. The odds of the fault are rescaled: sets with it keep their
    proportions, and so do those without.
    """
    chance = float(prior[present].sum())
    if not 0.0 < chance < 1.0:
        return None
    inside, outside = (
        float(lead[present].sum()) / chance,
        float(lead[~present].sum()) / (1.0 - chance),
    )
    if abs(outside - inside) < FLAT:
        return None
    found = outside / (outside - inside)
    return found if 0.0 < found < 1.0 else None


def break_even_change(lead: float, slope: float) -> float | None:
    """By how much a figure must change until ``lead`` is gone, if the lead grows by ``slope`` a unit of it."""
    return None if abs(slope) < FLAT else -lead / slope
