"""From chances among machines brought in to the priors of independent faults.

A catalog states how many of the machines that come in have a fault. Taken as they stand as priors
of independent faults, conditioned on something being wrong, they would come out nearly twice as
large and most machines would have two faults. One common factor on the odds sets that right.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.catalog.family import Family, FaultEntry

# 1: as stated; the least: one fault a machine in all but name
_LEAST, _MOST = 1e-6, 1.0


def independent_priors(
    family: Family,
    *,
    age_years: float | None = None,
    features: Mapping[str, str] | None = None,
    scale: float | None = None,
) -> dict[str, float]:
    """The prior of each fault key that can be there, ready for a model of independent faults.

    ``features`` (feature id to value) leaves out the faults of other machines; an unknown feature
    leaves its faults in, weighed by the share of machines that have it. Grades of a fault exclude
    each other: they share its odds. Without ``age_years`` no age factor applies. ``scale``: the
    family's :func:`odds_scale` where a caller has it, who asks for many kinds of machine.
    """
    if scale is None:
        scale = odds_scale(family)
    # odds that any of the real faults is there, to weigh 'nothing is wrong' against
    anything = math.prod(1.0 + scale * odds for odds in _stated_odds(family)) - 1.0
    # share of the machines with which nothing is wrong
    alone = sum(fault.prior for fault in family.faults.values() if fault.alone)
    priors: dict[str, float] = {}
    for fault in family.faults.values():
        # a share of all machines for those alone; odds of its own for every other fault
        base = fault.prior / (1.0 - alone) * anything if fault.alone else scale * _odds(fault.prior)
        odds = base * _fits(family, fault, features or {}) * age_factor(fault, age_years)
        # a fault without grades is its own only grade
        shares = [grade.share for grade in fault.grades] or [1.0]
        if odds > 0:
            priors |= {
                # exclusive grades add up in odds: 'none of them' stays as likely as without grades
                key: _chance(share * odds)
                for key, share in zip(fault.keys, shares, strict=True)
            }
    return priors


def age_factor(fault: FaultEntry, age_years: float | None) -> float:
    """Factor on the prior odds at an age in years; linear between the given ages, level beyond."""
    if age_years is None or not fault.age:
        return 1.0
    if age_years <= fault.age[0][0]:
        # level beyond the ends: nobody has figures for them, and a line would cross 0
        return fault.age[0][1]
    for (early, low), (late, high) in pairwise(fault.age):
        if age_years <= late:
            return low + (high - low) * (age_years - early) / (late - early)
    return fault.age[-1][1]


def odds_scale(family: Family) -> float:
    """Factor on the odds that makes the mean number of faults, given any, as stated.

    The stated mean is the sum of the chances, each weighed by the share of machines that can have
    the fault. It is sought among machines with real faults; those with a fault that stands alone
    ("nothing is wrong") have one each. The mean grows with the factor, from one fault a machine;
    where less is stated, the factor is very small.
    """
    faults = family.faults.values()
    alone = sum(fault.prior for fault in faults if fault.alone)
    # linearity of expectation: independent or not, the mean count is the sum of the shares
    wanted = sum(fault.prior * _fits(family, fault, {}) for fault in faults if not fault.alone) / (
        1.0 - alone
    )
    stated = _stated_odds(family)
    low, high = _LEAST, _MOST
    # the factor may only lower: more faults than stated would be invented
    if _mean_count(stated, high) <= wanted:
        return high
    # bisection on the log scale; 60 halvings leave nothing of a float's digits
    for _ in range(60):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if _mean_count(stated, middle) < wanted else (low, middle)
    return math.sqrt(low * high)


def _stated_odds(family: Family) -> list[float]:
    """The odds of each fault that can be there with others, over machines of unknown features."""
    return [
        _odds(fault.prior) * _fits(family, fault, {})
        for fault in family.faults.values()
        if not fault.alone
    ]


def _mean_count(stated: list[float], scale: float) -> float:
    """Mean number of faults given at least one, when the odds are multiplied by ``scale``."""
    together = math.prod(1.0 + scale * odds for odds in stated)
    return together * sum(scale * odds / (1.0 + scale * odds) for odds in stated) / (together - 1.0)


def _odds(chance: float) -> float:
    return chance / (1.0 - chance)


def _chance(odds: float) -> float:
    return odds / (1.0 + odds)


def _fits(family: Family, fault: FaultEntry, features: Mapping[str, str]) -> float:
    """The chance that the machine is of the kind that can have the fault."""
    fit = 1.0
    for feature, value in fault.needs.items():
        # unknown: weighed by how common machines of that kind are
        known = features.get(feature)
        if known is None:
            fit *= family.features[feature].share[value]
        elif known != value:
            return 0.0
    return fit
