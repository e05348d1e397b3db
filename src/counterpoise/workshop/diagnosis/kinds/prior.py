"""How likely each set of faults is before anything is heard: age, kind of machine, company."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import independent_priors
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
    by_kind = [
        _prior_of_kind(family, hypotheses, company, age_years, machine)
        for machine in kinds.machines
    ]
    return np.asarray(np.array(by_kind) + to_log(kinds.share)[:, None])


def _prior_of_kind(
    family: Family,
    hypotheses: Hypotheses,
    company: Floats,
    age_years: float | None,
    machine: Mapping[str, str],
) -> Floats:
    """(S,) log belief before the complaint: a machine of this age and kind in trouble."""
    priors = independent_priors(family, age_years=age_years, features=machine)
    chance = np.array([priors.get(key, 0.0) for key in hypotheses.fault_ids])
    # odds, since every fault that is not in a set adds the same factor to all of them
    weights = hypotheses.product_over(chance / (1.0 - chance)) * company
    # a machine is brought in for a reason; "normal" is a fault of its own
    weights[0] = 0.0
    return normalised(to_log(weights), what="this machine")
