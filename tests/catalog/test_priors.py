from collections.abc import Mapping

import numpy as np
import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.catalog.priors import age_factor, independent_priors, odds_scale
from counterpoise.reasoning.belief import marginals
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.model import Fault, Model


@pytest.fixture(scope="module")
def family():
    return load_family("front_loader")


def chance_given_something_wrong(family, priors: Mapping[str, float]) -> dict[str, float]:
    group = {
        key: fault.id for fault in family.faults.values() for key in fault.keys if fault.grades
    }
    alone = {key for fault in family.faults.values() for key in fault.keys if fault.alone}
    faults = tuple(Fault(key, prior, group.get(key), key in alone) for key, prior in priors.items())
    hypotheses = enumerate_hypotheses(Model(faults, prior="independent", max_faults=3))
    chance = marginals(
        prior_of(Model(faults, prior="independent", max_faults=3), hypotheses), hypotheses
    )
    return dict(zip(hypotheses.fault_ids, chance.tolist(), strict=True))


def test_given_that_something_is_wrong_each_fault_is_as_common_as_stated(family):
    found = chance_given_something_wrong(family, independent_priors(family))
    for fault in family.faults.values():
        share = np.prod([family.features[name].share[value] for name, value in fault.needs.items()])
        assert sum(found[key] for key in fault.keys) == pytest.approx(
            fault.prior * share, rel=0.12
        ), fault.id


def test_the_mean_number_of_faults_is_the_sum_of_the_stated_chances(family):
    stated = sum(
        fault.prior
        * np.prod([family.features[name].share[value] for name, value in fault.needs.items()])
        for fault in family.faults.values()
    )
    found = chance_given_something_wrong(family, independent_priors(family))
    assert 1.1 < stated < 1.4
    assert sum(found.values()) == pytest.approx(stated, abs=0.02)
    assert 0.2 < odds_scale(family) < 0.6


def test_a_known_feature_leaves_out_the_faults_of_other_machines(family):
    direct = independent_priors(family, features={"drive": "direct"})
    unknown = independent_priors(family)
    assert "belt_worn" not in direct
    assert {"belt_worn", "stator_failed"} <= unknown.keys()
    assert direct["stator_failed"] > 2 * unknown["stator_failed"]


def test_age_multiplies_the_odds_linear_between_the_years_and_level_beyond(family):
    bolts = family.faults["transit_bolts"]
    (first, most), *_, (last, least) = bolts.age
    assert age_factor(bolts, first) == most
    assert age_factor(bolts, last + 10) == least
    assert age_factor(bolts, None) == 1.0
    assert age_factor(bolts, 0.25) == pytest.approx((bolts.age[0][1] + bolts.age[1][1]) / 2)


def test_grades_share_the_odds_of_their_fault(family):
    priors = independent_priors(family)
    bearing = family.faults["bearing_worn"]
    odds = {key: priors[key] / (1 - priors[key]) for key in bearing.keys}
    for grade in bearing.grades:
        assert odds[f"bearing_worn:{grade.id}"] == pytest.approx(grade.share * sum(odds.values()))
