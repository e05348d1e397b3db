"""Break-even: where a choice between two policies turns, as one figure moves and all else stays.

Both policies are held fixed as they are planned now. The worth of a fixed policy is linear in the
weights of the belief and affine in every cost and value, so the point where two of them are worth
the same is exact. (If a figure really moved that far, one would plan anew; the better of two fixed
policies can only gain by that.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from counterpoise.reasoning.hypotheses import Floats

FLAT = 1e-12  # a slope below this is rounding: the figure does not matter


def break_even_probability(prior: Floats, lead: Floats, present: NDArray[np.bool_]) -> float | None:
    """Probability of a fault at which one policy's lead over another is gone; None where none does.

    ``prior`` (H,) is the belief; ``lead`` (H,) what one policy earns more than the other in each
    set of faults, times its belief; ``present`` (H,) where the fault is. The odds of the fault are
    rescaled: sets with it keep their proportions, and so do those without.
    """
    chance = float(prior[present].sum())
    if not 0.0 < chance < 1.0:
        return None
    # mean leads with and without the fault: the whole is their mean, weighed by the chance
    inside = float(lead[present].sum()) / chance
    outside = float(lead[~present].sum()) / (1.0 - chance)
    # the fault does not matter to the choice
    if abs(outside - inside) < FLAT:
        return None
    even = outside / (outside - inside)
    return even if 0.0 < even < 1.0 else None


def break_even_change(lead: float, slope: float) -> float | None:
    """Change of a figure at which ``lead`` is gone, if the lead grows by ``slope`` a unit of it.

    None where the figure has no effect.
    """
    return None if abs(slope) < FLAT else -lead / slope
