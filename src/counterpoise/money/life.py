"""How long a machine goes on, and what a year of it is worth.

Lives follow a Weibull law S(t) = exp(-(t/scale)^shape), conditional on the age reached. Money here
is any one unit, as floats; interest is a yearly rate in per cent, flows within a life run evenly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gamma, gammaincc

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

# 32 nodes a panel leave less than 1e-12 against scipy's adaptive quadrature (see the tests)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(32)
# beyond this hazard the closed form is 0/0, and nobody is left to care
_TAIL = 46.0  # a survival of exp(-46), 1e-20, counts as over
_PANELS = 16
_OLDEST = 1000.0  # years; no law of lives was ever fitted to longer ones


@dataclass(frozen=True, slots=True)
class Weibull:
    """A law of lives: ``shape`` k (no unit, > 1: wears out) and ``scale_years``."""

    shape: float
    scale_years: float

    def __post_init__(self) -> None:
        for name in ("shape", "scale_years"):
            value = getattr(self, name)
            if not 0.0 < value < math.inf:
                raise InputError(
                    f"{name} of a life is {value}", field=name, remedy="Give a number above 0"
                )

    def cumulative_hazard(self, years: float, age: float = 0.0) -> float:
        """Expected number of failures in ``years`` from ``age`` on, each minimally repaired."""
        _check_age(age)
        return float(
            ((age + years) / self.scale_years) ** self.shape
            - (age / self.scale_years) ** self.shape
        )

    def survival(self, years: float, age: float = 0.0) -> float:
        """Chance of going on for ``years`` more, having reached ``age``."""
        # S(age + t) / S(age): the hazard spent so far cancels
        return math.exp(-self.cumulative_hazard(years, age))

    def failure(self, years: float, age: float = 0.0) -> float:
        """Chance that it fails within ``years``, having reached ``age``."""
        # expm1: for short times the chance is far below what 1 - survival can carry
        return -math.expm1(-self.cumulative_hazard(years, age))

    def quantile(self, chance: float, age: float = 0.0) -> float:
        """Years from ``age`` by which it has failed with this chance (0 <= chance < 1)."""
        if not 0.0 <= chance < 1.0:
            raise InputError(
                f"a chance of {chance} has no time",
                field="chance",
                remedy="Give 0 or more, below 1",
            )
        _check_age(age)
        # the hazard already spent; survival given the age divides by it
        start = (age / self.scale_years) ** self.shape
        return float(self.scale_years * (start - math.log1p(-chance)) ** (1.0 / self.shape) - age)

    def mean(self) -> float:
        """Mean life from new, years."""
        # scale * Gamma(1 + 1/k), from new
        return self.scale_years * float(gamma(1.0 + 1.0 / self.shape))

    def mean_residual(self, age: float = 0.0) -> float:
        """Mean years left at ``age``, in closed form by the upper incomplete gamma function."""
        _check_age(age)
        start = (age / self.scale_years) ** self.shape
        if start > _TAIL:  # the closed form is 0/0 out there
            return self.service_years(age)
        # E[T - a | T > a] = integral of S over (a, inf) / S(a); the integral is an incomplete gamma
        tail = float(gammaincc(1.0 / self.shape, start)) * self.mean()
        return tail * math.exp(start)

    def service_years(self, age: float = 0.0, rate_percent: float = 0.0) -> float:
        """Expected discounted years of service from ``age`` on: the integral of v^t S(t | age).

        Gauss-Legendre on 16 panels up to where survival is below 1e-20.
        """
        _check_age(age)
        start = (age / self.scale_years) ** self.shape
        # where the hazard still to come reaches the tail
        end = self.scale_years * (start + _TAIL) ** (1.0 / self.shape) - age
        half = 0.5 / _PANELS
        # nodes of every panel side by side, (panels, nodes)
        # nodes of -1..1 moved to their panel of 0..1
        s = (2.0 * half * np.arange(_PANELS))[:, None] + half * (1.0 + _NODES)
        # t = end s^3 crowds the nodes at the start, where early failures bend the curve
        t = end * s**3
        hazard = ((age + t) / self.scale_years) ** self.shape - start
        # survival and discount in one exponent: neither underflows before the other matters
        kernel = np.exp(-hazard - t * math.log1p(rate_percent / 100.0))
        # 3 end s^2 ds = dt, the price of the change of variable
        return float(np.sum(half * _WEIGHTS * kernel * 3.0 * end * s**2))


def _check_age(age: float) -> None:
    # further out the powers of it are no numbers any more
    if not 0.0 <= age <= _OLDEST:
        raise InputError(
            f"an age of {age:g} years is not possible",
            field="age_years",
            remedy=f"Give 0 to {_OLDEST:g} years",
        )


def capital_recovery(rate_percent: float, years: float) -> float:
    """The capital recovery factor A/P: yearly payment that pays back 1 with interest."""
    if years <= 0:
        raise InputError(
            f"{years} years cannot pay anything back",
            field="years",
            remedy="Give more than 0 years",
        )
    rate = rate_percent / 100.0
    # expm1 and log1p keep small rates exact, down to the limit 1/n
    return 1.0 / years if rate == 0.0 else rate / -math.expm1(-years * math.log1p(rate))


def present_worth(flows: Sequence[float], rate_percent: float) -> float:
    """Worth today of flows at the ends of years 1, 2, ..."""
    # at the end of each year: the first flow is discounted by a whole year
    return sum(flow / (1.0 + rate_percent / 100.0) ** year for year, flow in enumerate(flows, 1))


def marginal_costs(
    values: Sequence[float], running: Sequence[float], rate_percent: float
) -> tuple[float, ...]:
    """Marginal cost of each further year, at its end: lost value, interest and running cost.

    ``values``: what it would fetch now and at the end of each year (one more than ``running``).
    """
    if len(values) != len(running) + 1:
        raise InputError(
            "give the value now and at the end of every year that has a running cost",
            field="values",
        )
    # money a year later is worth less by this factor
    growth = 1.0 + rate_percent / 100.0
    # capital bound at the start of the year, with interest, less what is left at its end
    years = zip(values[:-1], values[1:], running, strict=True)
    return tuple(before * growth - after + cost for before, after, cost in years)


def annual_costs(marginal: Sequence[float], rate_percent: float) -> tuple[float, ...]:
    """Equivalent annual cost of keeping for 1, 2, ...

    years, from the cost of each year at its end.
    """
    growth = 1.0 + rate_percent / 100.0
    # worth today of all years so far, spread evenly over them by the recovery factor
    worths = accumulate(cost / growth**year for year, cost in enumerate(marginal, 1))
    return tuple(
        worth * capital_recovery(rate_percent, year) for year, worth in enumerate(worths, 1)
    )


def economic_life(
    values: Sequence[float], running: Sequence[float], rate_percent: float
) -> tuple[int, float]:
    """(years, yearly cost) where owning is cheapest; arguments as for :func:`marginal_costs`."""
    costs = annual_costs(marginal_costs(values, running, rate_percent), rate_percent)
    # of equally cheap years the first: nothing is gained by waiting
    year = min(range(len(costs)), key=costs.__getitem__)
    return year + 1, costs[year]


def keep_years(marginal: Sequence[float], challenger: float, rate_percent: float) -> int:
    """Years to keep the old machine before a new one at ``challenger`` a year replaces it.

    Least present worth of (old year by year, then new for ever): a dear first year does not decide
    alone.
    """
    growth = 1.0 + rate_percent / 100.0
    gains = accumulate((cost - challenger) / growth**year for year, cost in enumerate(marginal, 1))
    # 0 years first: replacing at once is one of the choices
    sums = [0.0, *gains]
    return min(range(len(sums)), key=sums.__getitem__)
