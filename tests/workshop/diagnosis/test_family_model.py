"""The family laid out for reasoning: masks, chances, tables; against sums over sets by hand."""

from dataclasses import replace

import numpy as np
import pytest
from tests.workshop.diagnosis.bench import FAMILY, now
from tests.workshop.small import FAMILY as SMALL

from counterpoise.workshop.diagnosis.family_model import (
    ANY_SLIP,
    MAX_FAULTS,
    MISREADING,
    cached_by_family,
    family_model,
    fault_of,
    fits,
    slips_among,
    with_misreading,
    within_reach,
    works_under,
)
from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief
from counterpoise.workshop.diagnosis.kinds.kinds import kinds_of
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, build_problem
from counterpoise.workshop.jobs.settings import Settings

MODEL = family_model(SMALL)


def members(model, row):
    return {model.fault_of[i] for i in model.hypotheses.sets[row]}


@pytest.mark.parametrize("fault", list(SMALL.faults))
def test_a_mask_holds_the_sets_with_any_grade_of_the_fault(fault):
    expected = [fault in members(MODEL, row) for row in range(len(MODEL.hypotheses.sets))]
    assert MODEL.mask(fault).tolist() == expected
    assert any(expected)
    assert not all(expected)


def test_a_mask_over_fewer_sets_is_that_of_those_sets():
    situation = now()
    problem = build_problem(situation, Settings(people=2))
    smaller, _ = problem.narrowed(MAX_DROPPED, 40)
    model = situation.model
    for fault in ("damper_worn", "belt_worn"):
        names = smaller.hypotheses.fault_ids
        assert model.mask(fault, smaller.hypotheses).tolist() == [
            any(fault_of(names[i]) == fault for i in faults) for faults in smaller.hypotheses.sets
        ]
        assert model.mask(fault, smaller.hypotheses).any()


def test_the_chance_of_a_fault_is_the_belief_in_its_mask():
    situation = now()
    chances = situation.model.fault_chances(situation.probabilities)
    assert set(chances) == set(FAMILY.faults)
    assert list(chances.values()) == sorted(chances.values(), reverse=True)
    for fault, chance in chances.items():
        mask = situation.model.mask(fault)
        assert chance == pytest.approx(situation.probabilities[mask].sum(), abs=1e-12)


def test_key_chances_part_a_fault_into_its_grades():
    situation = now()
    by_key = situation.model.key_chances(situation.probabilities)
    chances = situation.model.fault_chances(situation.probabilities)
    for fault in FAMILY.faults.values():
        assert sum(by_key[key] for key in fault.keys) == pytest.approx(chances[fault.id])


def test_the_sound_set_is_the_first_and_only_it():
    assert np.flatnonzero(MODEL.sound).tolist() == [0]
    assert max(len(faults) for faults in family_model(FAMILY).hypotheses.sets) == MAX_FAULTS


def test_every_column_of_a_table_sums_to_one_and_no_outcome_is_impossible():
    for table in family_model(FAMILY).tables.values():
        assert table.sum(axis=0) == pytest.approx(np.ones(table.shape[1]))
        assert table.min() >= ANY_SLIP * MISREADING / len(table) - 1e-15


def test_a_slip_puts_down_what_is_common_and_one_in_ten_anything():
    table = np.array([[1.0, 0.3], [0.0, 0.7]])
    slips = slips_among(np.array([0.8, 0.2]))
    assert slips == pytest.approx(0.01 * np.array([0.9 * 0.8 + 0.05, 0.9 * 0.2 + 0.05]))
    assert with_misreading(table, slips) == pytest.approx(0.99 * table + slips[:, None])


def test_a_rare_thing_that_was_plainly_before_the_eyes_counts_as_there():
    """Of two springs one is broken: nobody puts that down for want of attention."""
    spring = FAMILY.checks["look_springs"]
    slips = family_model(FAMILY).slips["look_springs"]
    place = list(spring.outcomes).index("broken")
    assert slips.sum() == pytest.approx(MISREADING)
    # rarer than what the look itself gets wrong
    assert 0.0 < slips[place] < spring.otherwise["broken"] / 2


def test_a_machine_is_brought_in_with_a_fault():
    belief = np.exp(prior_belief(MODEL, 6.0, {}))
    assert belief.sum() == pytest.approx(1.0)
    assert belief[0] == 0.0


def test_a_feature_known_rules_out_what_needs_another():
    assert fits({"drive": "belt"}, {"drive": "belt"})
    assert fits({"drive": "belt"}, {})
    assert not fits({"drive": "belt"}, {"drive": "direct"})
    assert fits({}, {"drive": "direct"})


@pytest.mark.parametrize(
    ("people", "tools", "can"),
    [(2, None, True), (1, None, False), (2, ("drift",), True), (2, (), False)],
)
def test_hands_and_tools_must_be_there(people, tools, can):
    entry = replace(SMALL.repairs["replace_dampers"], people=2, tools=("drift",))
    assert within_reach(entry, people, tools) is can


def test_work_leaves_no_fault_as_often_as_every_one_is_cured():
    repair = SMALL.repairs["replace_dampers"]
    cured = {"damper_worn:early": 0.9, "damper_worn:gone": 0.5}
    family = replace(SMALL, repairs={repair.id: replace(repair, cures=cured)})
    model = family_model(family)
    works = works_under(model, kinds_of(family, {"drive": "belt"}), [family.repairs[repair.id]])[0]
    by_set = dict(zip(model.hypotheses.sets, works, strict=True))
    early, gone, support = (
        model.hypotheses.fault_ids.index(key)
        for key in ("damper_worn:early", "damper_worn:gone", "support_cracked")
    )
    assert by_set[()] == 1.0
    assert by_set[(early,)] == pytest.approx(0.9)
    assert by_set[(gone,)] == pytest.approx(0.5)
    assert by_set[(support,)] == 0.0
    assert by_set[tuple(sorted((early, support)))] == 0.0


def test_no_work_cures_nothing():
    works = works_under(MODEL, kinds_of(SMALL, {}), [])
    assert works.shape == (2, len(MODEL.hypotheses.sets))
    assert works[1].tolist() == MODEL.sound.astype(float).tolist()


def test_a_family_is_laid_out_once_by_identity_not_by_contents():
    twin = replace(SMALL)
    assert twin == SMALL
    # asked for twice here: what other tests laid out may have pushed MODEL out of the cache
    first = family_model(SMALL)
    assert family_model(SMALL) is first
    assert family_model(twin) is not first
    calls = []
    count = cached_by_family(lambda family: calls.append(family) or len(calls))
    assert [count(SMALL), count(SMALL), count(twin)] == [1, 1, 2]
