"""Least-squares circle and oval through readings round a rim."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.bench.quantity import Quantity, magnitude, widening
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

# How oval a rim or tub usually is, as an amplitude: what an oval that cannot be solved for may
# feign. Estimate.
USUAL_OVAL_MM = 0.3


@dataclass(frozen=True, slots=True)
class RimFit:
    """Coefficients (3,) or, where ``oval``, (5,) of 1, cos a, sin a, cos 2a, sin 2a in mm.

    ``covariance`` (3, 3) or (5, 5) in mm2, ``residuals`` (n,) in mm; ``widened`` is the factor by
    which the stated doubt had to grow.
    """

    coefficients: Array
    covariance: Array
    residuals: Array
    oval: bool
    widened: float

    def row(self, angles: Array) -> Array:
        """Design rows for angles in rad, shape (n, 3 or 5)."""
        return design(angles, oval=self.oval)


def design(angles: Array, *, oval: bool) -> Array:
    """Columns 1, cos a, sin a and, for an oval, cos 2a, sin 2a: shape (n, 3 or 5)."""
    columns = [np.ones_like(angles), np.cos(angles), np.sin(angles)]
    if oval:
        columns += [np.cos(2 * angles), np.sin(2 * angles)]
    return np.column_stack(columns)


def fit_rim(angles: Array, gaps_mm: Array, sd_mm: float) -> RimFit:
    """Fit circle and, where the places carry it, oval, to gaps (n,) in mm at angles in rad.

    Raises ReadingError when the places do not fix a circle.
    """
    # Condition numbers of the design: 1 for even steps. Above 5 the oval would take what is the
    # circle's, above 10 noise decides where the centre is (estimates).
    oval = angles.size >= 5 and float(np.linalg.cond(design(angles, oval=True))) < 5
    rows = design(angles, oval=oval)
    if float(np.linalg.cond(rows)) > 10:
        raise ReadingError(
            "the readings stand too close together to tell a centre",
            field="gaps_mm",
            remedy="read at four places at least, spread right round",
        )
    inverse = np.linalg.pinv(rows)
    coefficients = inverse @ gaps_mm
    residuals = gaps_mm - rows @ coefficients
    widened = widening(float(residuals @ residuals), angles.size - rows.shape[1], sd_mm)
    covariance = (sd_mm * widened) ** 2 * inverse @ inverse.T
    if not oval:
        # An oval that cannot be solved for leaks into the centre unless the places are evenly
        # spread.
        leak = inverse @ design(angles, oval=True)[:, 3:]
        covariance = covariance + USUAL_OVAL_MM**2 / 2 * leak @ leak.T
    return RimFit(coefficients, covariance, residuals, oval, widened)


def amplitude(vector: Array, covariance: Array, factor: float = 1.0, unit: str = "mm") -> Quantity:
    """Length of a vector (2,) with its uncertainty along its own direction, times ``factor``."""
    length = float(np.hypot(*vector))
    # no direction of its own: any will do
    along = vector / length if length > 0 else np.array([1.0, 0.0])
    sd = math.sqrt(max(0.0, float(along @ covariance @ along)))
    return magnitude(length * factor, sd * factor, unit)
