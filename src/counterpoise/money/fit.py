"""Lives from own records: Kaplan-Meier and Weibull, right-censored and left-truncated.

``years`` (n,): age at failure, or age at the last look where ``failed`` (n,) is False. ``entered``
(n,): age at which a machine came under observation; its earlier years are no evidence that it would
have been seen to fail.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from counterpoise.errors import InputError
from counterpoise.money.life import Weibull

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from counterpoise.money.option_model import Floats

# where the root for the shape is sought: from nearly no ageing to nearly a fixed age
_SHAPES = (0.02, 200.0)
# two failures always fit a two-parameter law, whatever they are
_FEWEST = 3


@dataclass(frozen=True, slots=True)
class Lives:
    """Checked records, as arrays (n,)."""

    years: Floats
    failed: NDArray[np.bool_]
    entered: Floats

    @classmethod
    def of(
        cls, years: ArrayLike, failed: ArrayLike | None = None, entered: ArrayLike | None = None
    ) -> Lives:
        """Checked records; default: all failed, all observed from new. Raises InputError."""
        t = np.asarray(years, dtype=float)
        d = np.ones(t.shape, dtype=bool) if failed is None else np.asarray(failed, dtype=bool)
        e = np.zeros(t.shape) if entered is None else np.asarray(entered, dtype=float)
        if t.ndim != 1 or d.shape != t.shape or e.shape != t.shape:
            raise InputError("years, failed and entered need one figure a machine", field="years")
        # a life that ended before it was observed could not have been seen at all
        if not np.all(np.isfinite(t) & (t > 0) & (e >= 0) & (e < t)):
            raise InputError(
                "a life must be above 0 and end after it came under observation", field="years"
            )
        return cls(t, d, e)


@dataclass(frozen=True, slots=True)
class WeibullFit:
    """Maximum-likelihood Weibull law, with standard errors from the observed information."""

    life: Weibull
    shape_se: float
    scale_se: float
    failures: int
    machines: int


@dataclass(frozen=True, slots=True)
class SurvivalSteps:
    """Kaplan-Meier: share ``survival`` (m,) after ``years`` (m,), ``se`` (m,) by Greenwood."""

    years: Floats
    survival: Floats
    se: Floats

    def median(self) -> float:
        """Age in years at which at most half still run; infinite where more do at the end."""
        # the tolerance: products of shares such as 4/5 * 5/8 end a hair above a half
        below = np.flatnonzero(self.survival <= 0.5 + 1e-12)
        return float(self.years[below[0]]) if below.size else float("inf")


def kaplan_meier(lives: Lives) -> SurvivalSteps:
    """Estimate survival without assuming a law (Kaplan and Meier, 1958)."""
    # the curve steps at failures only; a censored age steps nothing and leaves the risk set
    years = np.unique(lives.years[lives.failed])
    dead = np.array([np.sum((lives.years == t) & lives.failed) for t in years], dtype=float)
    # who came under observation later was not at risk before (left truncation)
    at_risk = np.array(
        [np.sum((lives.years >= t) & (lives.entered < t)) for t in years], dtype=float
    )
    # product limit: the chance of passing each step, given that one came so far
    survival = np.cumprod(1.0 - dead / at_risk)
    left = at_risk - dead
    # where nobody is left, Greenwood's term would be infinite: the curve is at zero anyway
    terms = np.divide(dead, at_risk * left, out=np.zeros_like(dead), where=left > 0)
    return SurvivalSteps(years, survival, survival * np.sqrt(np.cumsum(terms)))


def fit_weibull(lives: Lives) -> WeibullFit:
    """Fit a Weibull law by maximum likelihood: scale in closed form, shape as a root.

    Raises InputError with fewer than three failures, or where all fail at the same age.
    """
    count = int(lives.failed.sum())
    # equal ages would make the shape infinite
    if count < _FEWEST or np.unique(lives.years[lives.failed]).size < 2:
        raise InputError(
            f"{count} failures do not show a law of lives",
            field="failed",
            remedy=f"Wait for at least {_FEWEST} failures at different ages; "
            "use the published law until then",
        )
    unit = float(lives.years.max())  # keeps the powers within reach
    t, e, logs = lives.years / unit, lives.entered / unit, np.log(lives.years[lives.failed] / unit)

    # score in the shape with the scale put in from its own closed form: falls from + to -
    def slope(shape: float) -> float:
        total, first = _sums(t, e, shape)
        return count / shape + float(logs.sum()) - count * first / total

    # powers of lives that are far apart vanish; what is no number then is no law either
    with np.errstate(all="ignore"):
        ends = [slope(end) for end in _SHAPES]
        if not (ends[0] > 0.0 > ends[1]):
            raise InputError(
                "these lives show no law: the failures are all at nearly one age, or no two alike",
                field="years",
                remedy="Look for slips in the table; else use the published law",
            )
        # bracketed, so it cannot run away as Newton's method does for few failures
        shape = float(brentq(slope, *_SHAPES, xtol=1e-12))
        scale = unit * (_sums(t, e, shape)[0] / count) ** (1.0 / shape)
        shape_se, scale_se = _errors(lives, shape, scale)
    # machines that came under observation just before they failed say nothing of a life
    if not (shape_se < shape and scale_se < scale):
        raise InputError(
            f"these lives leave the law open: shape {shape:.2g} ± {shape_se:.2g}, scale"
            f" {scale:.2g} ± {scale_se:.2g} years",
            field="years",
            remedy="Watch more machines, or for longer; use the published law until then",
        )
    return WeibullFit(Weibull(shape, scale), shape_se, scale_se, count, lives.years.size)


def _sums(t: Floats, e: Floats, shape: float) -> tuple[float, float]:
    """Sum of t^k - e^k, and its derivative in k."""
    # entered at 0: e^k is 0 for every k, so its log must not become nan
    log_t, log_e = np.log(t), np.log(e, out=np.zeros_like(e), where=e > 0)
    return float(np.sum(t**shape - e**shape)), float(np.sum(t**shape * log_t - e**shape * log_e))


def _errors(lives: Lives, shape: float, scale: float) -> tuple[float, float]:
    """Invert the observed information in (shape, scale)."""
    t, e, d = lives.years / scale, lives.entered / scale, lives.failed.sum()
    log_t, log_e = np.log(t), np.log(e, out=np.zeros_like(e), where=e > 0)
    power = float(np.sum(t**shape - e**shape))
    first = float(np.sum(t**shape * log_t - e**shape * log_e))
    second = float(np.sum(t**shape * log_t**2 - e**shape * log_e**2))
    # second derivatives of the negative log likelihood, lives in units of the scale
    cross = (d - power - shape * first) / scale
    own = shape * ((shape + 1.0) * power - d) / scale**2
    information = np.array([[d / shape**2 + second, cross], [cross, own]])
    # inverse information: the variance of the estimates where there are many failures
    try:
        errors = np.sqrt(np.diag(np.linalg.inv(information)))
    # flat in some direction: any law along it fits as well
    except np.linalg.LinAlgError:
        return math.inf, math.inf
    return float(errors[0]), float(errors[1])
