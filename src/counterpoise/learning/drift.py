"""Old jobs weigh less: by a half-life, which is itself held against what came after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# In days; None: nothing fades. A workshop changes its trade over years, not weeks (from memory).
HALF_LIVES: tuple[float | None, ...] = (None, 1460.0, 730.0, 365.0)
# A half-life is taken only where it foretold better by so many errors of the difference.
CLEARLY = 2.0


def faded(ages_days: Floats, half_life: float | None) -> Floats:
    """(J,) how much jobs closed so many days ago count; all 1 where nothing fades."""
    if half_life is None:
        return np.ones(len(ages_days))
    return np.asarray(0.5 ** (np.maximum(ages_days, 0.0) / half_life))


def judged_half_life(
    score_of: Callable[[float | None], Floats],
    half_lives: Sequence[float | None] = HALF_LIVES,
) -> float | None:
    """The half-life that foretold later jobs best; None, no fading, unless one is clearly better.

    ``score_of`` gives the log scores (J,) of jobs foretold from those before them.
    """
    plain, best, gain = score_of(None), None, 0.0
    for half_life in half_lives:
        if half_life is None or len(plain) < 2:
            continue
        difference = score_of(half_life) - plain
        error = float(difference.std(ddof=1)) / len(difference) ** 0.5
        mean = float(difference.mean())
        # the best of several is ahead by luck more often than its error says
        if mean > max(CLEARLY * error, gain):
            best, gain = half_life, mean
    return best
