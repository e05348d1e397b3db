"""The proof spin: one pair of errors, and belief, plan and guarantee that agree on it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.workshop.diagnosis.bench import FAMILY, SHOP, now
from tests.workshop.small import FAMILY as SMALL

from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.diagnosis.proof_spin import FALSE_ALARMS_TO_MISSES, ProofSpin
from counterpoise.workshop.jobs.entries import Proof, RepairDone

CHANCES = st.floats(0.0, 1.0)
ERRORS = st.floats(0.0, 0.3)


def test_a_family_sets_misses_and_false_alarms_in_proportion():
    proof = ProofSpin.of(SMALL)
    assert proof.misses == SMALL.proof_misses == 0.06
    assert proof.false_alarms == 0.06 * FALSE_ALARMS_TO_MISSES == 0.015


def test_passes_by_set_of_faults():
    passes = ProofSpin(0.1, 0.02).passes(np.array([True, False, False]))
    assert passes.tolist() == [0.98, 0.1, 0.1]


@pytest.mark.parametrize("passed", [True, False])
def test_what_two_recordings_say_of_a_repair_moves_less_than_who_stood_beside_it(passed):
    """Odds for a machine in order: as measured on rehearsed pairs, and as the catalog has them."""
    proof, sound = ProofSpin.of(SMALL), np.array([True, False])
    order, fault = proof.likelihood(sound, passed=passed, recorded=True)
    stood_order, stood_fault = proof.likelihood(sound, passed=passed)
    told, watched = np.log(order / fault), np.log(stood_order / stood_fault)
    assert 1 < told / (1 if passed else -1) < watched / (1 if passed else -1)


@given(CHANCES, ERRORS, ERRORS)
def test_a_fault_left_is_what_bayes_says(works, misses, false_alarms):
    """The same figure as from the two likelihoods that the belief takes."""
    proof = ProofSpin(misses, false_alarms)
    prior = np.array([works, 1.0 - works])
    joint = prior * proof.passes(np.array([True, False]))
    left = proof.fault_left(works)
    assert 0.0 <= left <= 1.0
    if joint.sum() > 1e-12:
        assert left == pytest.approx(joint[1] / joint.sum(), abs=1e-9)


@given(ERRORS, ERRORS, st.floats(0.01, 0.98))
def test_the_surer_the_repair_the_less_is_left(misses, false_alarms, works):
    proof = ProofSpin(misses, false_alarms)
    assert proof.fault_left(works + 0.01) <= proof.fault_left(works)


def test_a_spin_that_misses_nothing_leaves_nothing():
    assert ProofSpin(0.0, 0.0).fault_left(0.3) == 0.0


def test_where_nothing_could_have_run_true_a_fault_is_left_for_sure():
    assert ProofSpin(0.0, 0.0).fault_left(0.0) == 1.0
    assert ProofSpin(0.1, 1.0).fault_left(1.0) == 1.0


def test_belief_after_a_passed_proof_is_the_guarantees_figure():
    mended = now(RepairDone("replace_dampers"))
    passed = now(RepairDone("replace_dampers"), Proof(True))
    proof = family_model(FAMILY).proof
    assert 1.0 - passed.probabilities[0] == pytest.approx(
        proof.fault_left(mended.probabilities[0]), rel=1e-9
    )


def test_a_failed_proof_leaves_a_little_belief_in_a_sound_machine():
    mended = now(RepairDone("replace_dampers")).probabilities[0]
    failed = now(RepairDone("replace_dampers"), Proof(False)).probabilities[0]
    proof = family_model(FAMILY).proof
    expected = mended * proof.false_alarms
    expected /= expected + (1.0 - mended) * (1.0 - proof.misses)
    assert failed == pytest.approx(expected, rel=1e-9)
    assert 0.0 < failed < mended


def test_the_planner_takes_the_same_misses_and_leaves_false_alarms_out():
    problem = build_problem(now(), SHOP)
    assert problem.retest.misses == family_model(FAMILY).proof.misses
    passes = problem.arrays().pass_chance
    assert passes[0] == 1.0
    assert set(passes[1:]) == {problem.retest.misses}
