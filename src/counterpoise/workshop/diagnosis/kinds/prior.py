"""How likely each set of faults is before anything is heard: age, kind of machine, company."""

from __future__ import annotations

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import independent_priors, odds_scale
from counterpoise.reasoning.belief import normalised, to_log
from counterpoise.reasoning.evidence import company_factor
from counterpoise.reasoning.hypotheses import Floats, Hypotheses
from counterpoise.workshop.diagnosis.kinds.kinds import Kinds


def company_of(family: Family, hypotheses: Hypotheses) -> Floats:
    """(H,) factor on the odds of each set for the faults of it that bring each other."""
    pairs = {
        (one, other): times
        for fault in family.faults.values()
        for name, times in fault.brings.items()
        # whatever the grade of either
        for one in fault.keys
        for other in family.faults[name].keys
    }
    return company_factor(hypotheses, pairs, independent_priors(family))


def joint_prior_over(
    family: Family, hypotheses: Hypotheses, company: Floats, age_years: float | None, kinds: Kinds
) -> Floats:
    """(K, S) log belief; of no age (None) where nothing is known of a machine."""
    odds = prior_odds(family, hypotheses, age_years, kinds)
    return np.asarray(prior_of_kinds(odds, hypotheses, company) + to_log(kinds.share)[:, None])


def prior_of_kinds(odds: Floats, hypotheses: Hypotheses, company: Floats) -> Floats:
    """(K, S) log belief in the sets of faults of each kind, from (K, F) ``odds`` of the faults."""
    return np.array([_prior_of_kind(hypotheses, company, each) for each in odds])


def prior_odds(
    family: Family,
    hypotheses: Hypotheses,
    age_years: float | None,
    kinds: Kinds,
    scale: float | None = None,
) -> Floats:
    """(K, F) prior odds of each fault key on a machine of this age, by kind.

    ``scale``: the family's :func:`odds_scale` where a caller has it, as it takes longest.
    """
    if scale is None:
        scale = odds_scale(family)
    by_kind = [
        independent_priors(family, age_years=age_years, features=machine, scale=scale)
        for machine in kinds.machines
    ]
    chances = np.array(
        [[priors.get(key, 0.0) for key in hypotheses.fault_ids] for priors in by_kind]
    )
    return np.asarray(chances / (1.0 - chances))


def _prior_of_kind(hypotheses: Hypotheses, company: Floats, odds: Floats) -> Floats:
    """(S,) log belief before the complaint: a machine in trouble, (F,) ``odds`` of its faults."""
    # odds, since every fault that is not in a set adds the same factor to all of them
    weights = hypotheses.product_over(odds) * company
    # a machine is brought in for a reason; "normal" is a fault of its own
    weights[0] = 0.0
    return normalised(to_log(weights), what="this machine")
