"""What a check shows where a fault is there, as this hand does it.

A row is the chances (O,) of the outcomes under one fault. A job counts for it as far as that fault
alone, of all that the check speaks of, is believed to have been there; what the fault itself gave
is told apart from the leak. A check that was not done says nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Share of a row spread over all outcomes while counting: what is written as impossible may happen.
OPEN = 0.03


def given_by(row: Floats, leak: Floats | None, fits: Floats) -> Floats:
    """(O,) chance of each outcome having been the fault's own, where ``fits`` (O,) was found.

    ``row`` (O,) and ``leak`` (O,) are independent causes, and the worse of the two is shown; None:
    the row speaks alone. All zeros where nothing could have shown this.
    """
    usual = (1.0 - OPEN) * row + OPEN / len(row)
    if leak is None:
        joint = usual * fits
    else:
        worse = np.maximum.outer(np.arange(len(row)), np.arange(len(row)))
        joint = (usual[:, None] * leak * fits[worse]).sum(axis=1)
    total = joint.sum()
    return np.asarray(joint / total if total > 0 else np.zeros_like(joint))


def learned_row(row: Floats, strength: float, counts: Floats) -> Floats:
    """(O,) mean of the Dirichlet law of a row worth ``strength`` jobs after ``counts`` (O,)."""
    return np.asarray((strength * row + counts) / (strength + counts.sum()))
