"""What a family's tables make of a story: the chance of each fault after complaints and findings. For tests only."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import independent_priors
from counterpoise.reasoning.belief import marginals, observe, to_log
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model


def chances(
    family: Family,
    complaints: Iterable[str] = (),
    findings: Iterable[tuple[str, str]] = (),
    *,
    age_years: float | None = None,
    features: Mapping[str, str] | None = None,
) -> dict[str, float]:
    """The chance of each fault (grades together), sets of up to three faults."""
    owner = {key: fault for fault in family.faults.values() for key in fault.keys}
    faults = tuple(
        Fault(key, prior, owner[key].id if owner[key].grades else None, owner[key].alone)
        for key, prior in independent_priors(family, age_years=age_years, features=features).items()
    )
    model = Model(faults, prior="independent", max_faults=3)
    hypotheses = enumerate_hypotheses(model)
    belief = to_log(prior_of(model, hypotheses))
    for check, seen in [
        *(_complaint(family, c) for c in complaints),
        *(_finding(family, *f) for f in findings),
    ]:
        known = {key: row for key, row in check.under.items() if key in hypotheses.fault_ids}
        table = outcome_table(
            replace(check, under=known),
            hypotheses,
        )
        belief = observe(belief, table, [float(outcome == seen) for outcome in check.outcomes])
    found: dict[str, float] = {}
    for key, chance in zip(
        hypotheses.fault_ids, marginals(np.exp(belief), hypotheses).tolist(), strict=True
    ):
        found[owner[key].id] = found.get(owner[key].id, 0.0) + chance
    return found


def suspects(found: Mapping[str, float]) -> list[str]:
    """Fault ids, likeliest first."""
    return sorted(found, key=found.__getitem__, reverse=True)


def _complaint(family: Family, name: str) -> tuple[Check, str]:
    under = {
        key: {"heard": row[name]}
        for fault in family.faults.values()
        for key, row in fault.complaints.items()
        if name in row
    }
    return Check(
        name, 0, ("silent", "heard"), under, {"heard": family.complaints[name].leak}
    ), "heard"


def _finding(family: Family, name: str, outcome: str) -> tuple[Check, str]:
    entry = family.checks[name]
    return Check(
        name,
        0,
        tuple(entry.outcomes),
        entry.under,
        entry.otherwise,
        exclusive=entry.exclusive,
        unordered=entry.unordered,
    ), outcome
