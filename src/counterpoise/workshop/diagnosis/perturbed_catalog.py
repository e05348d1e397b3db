"""A catalog whose figures are wrong, to see what that costs: priors, outcomes, minutes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from counterpoise.catalog.family import CheckEntry, Family

# Ranges in which figures "from memory" may lie (from memory themselves).
PRIOR_FACTOR = 2.0  # prior odds times or by up to this
DETECTION = 0.1  # chance of an outcome, up or down
MINUTES = 0.3  # share of the minutes, up or down


def perturbed(family: Family, rng: np.random.Generator) -> Family:
    """The family with priors, chances of outcomes and minutes moved at random in their ranges.

    Each independently of the others; the same ``rng`` state gives the same family.
    """
    faults = {
        key: replace(fault, prior=_prior(fault.prior, rng)) for key, fault in family.faults.items()
    }
    checks = {key: _check(entry, rng) for key, entry in family.checks.items()}
    repairs = {
        key: replace(entry, minutes=_minutes(entry.minutes, rng))
        for key, entry in family.repairs.items()
    }
    access = {
        key: replace(
            entry, open_min=_minutes(entry.open_min, rng), close_min=_minutes(entry.close_min, rng)
        )
        for key, entry in family.access.items()
    }
    return replace(family, faults=faults, checks=checks, repairs=repairs, access=access)


def _prior(prior: float, rng: np.random.Generator) -> float:
    # odds, not chances: twice a prior of 0.6 would be none
    odds = prior / (1.0 - prior) * PRIOR_FACTOR ** rng.uniform(-1.0, 1.0)
    return float(odds / (1.0 + odds))


def _minutes(minutes: float, rng: np.random.Generator) -> float:
    # uniform: nothing is known of the error but its range
    return float(minutes * (1.0 + rng.uniform(-MINUTES, MINUTES)))


def _check(entry: CheckEntry, rng: np.random.Generator) -> CheckEntry:
    # only how well a fault is detected moves; what a check shows without one is left as written
    under = {key: _row(row, rng) for key, row in entry.under.items()}
    return replace(entry, under=under, minutes=_minutes(entry.minutes, rng))


def _row(row: Mapping[str, float], rng: np.random.Generator) -> Mapping[str, float]:
    moved = {
        name: float(np.clip(p + rng.uniform(-DETECTION, DETECTION), 0.0, 1.0))
        for name, p in row.items()
    }
    total = sum(moved.values())
    # chances pushed past 1 together are scaled back; the rest goes to the outcome without a figure
    return {name: p / total for name, p in moved.items()} if total > 1.0 else moved
