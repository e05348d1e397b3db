"""Catalogs drawn from the ranges in which the figures may lie, and what is the same for every job.

Arrays are over K kinds, F fault keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import odds_scale
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.likelihood import Causes, causes_of
from counterpoise.workshop.diagnosis.family_model import (
    FamilyModel,
    cached_by_family,
    family_model,
    reasoning_check,
)
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds
from counterpoise.workshop.diagnosis.kinds.prior import prior_odds
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed

CATALOGS = 16
SEED = 20  # of the catalogs drawn: the same for every job, so that the advice does not flicker
_PRIORS_KEPT = 8  # by age and what is known of a machine


# compared by identity: to compare two catalogs figure by figure would take longer than it saves
@dataclass(frozen=True, eq=False)
class Plausible:
    """A catalog that may be right, with what is worked out of it once."""

    family: Family
    fault_ids: tuple[str, ...]

    @cached_property
    def causes(self) -> Mapping[str, Causes]:
        """By check, what its outcomes hang on."""
        checks = self.family.checks.values()
        return {each.id: causes_of(reasoning_check(each), self.fault_ids) for each in checks}

    @cached_property
    def scale(self) -> float:
        """The factor on the odds of its faults."""
        return odds_scale(self.family)


@dataclass(frozen=True, eq=False)
class Priors:
    """(K, F) prior odds of the fault keys by kind, and (K,) what all sets but the empty weigh."""

    odds: Floats
    mass: Floats


@cached_by_family
def catalogs(family: Family) -> tuple[Family, ...]:
    """The catalogs of the range, drawn once; the same for every job."""
    return tuple(perturbed(family, np.random.default_rng([SEED, i])) for i in range(CATALOGS))


@cached_by_family
def plausible(family: Family) -> tuple[Plausible, ...]:
    """The catalog as it is written, then those of the range."""
    # the faults are those of the family: a catalog of the range has other figures, no other faults
    fault_ids = family_model(family).hypotheses.fault_ids
    return tuple(Plausible(each, fault_ids) for each in (family, *catalogs(family)))


def priors(model: FamilyModel, age_years: float, kinds: Kinds) -> tuple[Priors, ...]:
    """The priors by the catalog as it is written, then by each of the range."""
    return model.remembered.of(
        "range", (age_years, kinds.key), lambda: _priors(model, age_years, kinds), _PRIORS_KEPT
    )


def _priors(model: FamilyModel, age_years: float, kinds: Kinds) -> tuple[Priors, ...]:
    # of every set of faults, some tens of thousands: as dear as a whole plan, and the same for all
    by_catalog = []
    for each in plausible(model.family):
        odds = prior_odds(each.family, model.hypotheses, age_years, kinds, each.scale)
        weights = [model.hypotheses.product_over(of_kind) * model.company for of_kind in odds]
        by_catalog.append(Priors(odds, np.array([weight[1:].sum() for weight in weights])))
    return tuple(by_catalog)
