"""The arithmetic from votes to likelihoods, on models small enough to reckon by hand."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from counterpoise.spin.causes.forest import Forest, grow_forest
from counterpoise.spin.causes.groups import FAULTS_OF, GROUPS, PRIOR, WORDS
from counterpoise.spin.causes.net import Net, train_net
from counterpoise.spin.causes.posterior import (
    PRIOR_MIX,
    PRIOR_OF,
    feature_row,
    forest_inputs,
    group_probabilities,
    network_inputs,
    shipped_models,
    tempered,
)

COUNT = len(GROUPS)
NAMES = sorted({name.rstrip("'") for name in shipped_models()["with_baseline"].names})
probabilities = arrays(np.float64, COUNT, elements=st.floats(1e-6, 1.0)).map(lambda p: p / p.sum())


@settings(max_examples=100, deadline=None, derandomize=True)
@given(p=probabilities, temperature=st.floats(0.5, 5.0))
def test_tempering_keeps_order_against_the_prior_and_rules_nothing_out(p, temperature):
    q = tempered(p[None], temperature)[0]
    assert q.sum() == pytest.approx(1)
    assert np.all(q >= PRIOR_MIX * PRIOR_OF - 1e-12)
    # Groups that were raised more stay raised more.
    raised, after = (p + 1e-3) / PRIOR_OF, q / PRIOR_OF
    assert np.all(np.diff(after[np.argsort(raised, kind="stable")]) >= -1e-9)


@settings(max_examples=50, deadline=None, derandomize=True)
@given(p=probabilities)
def test_the_hotter_the_nearer_to_the_prior(p):
    far = [np.abs(tempered(p[None], each)[0] - PRIOR_OF).max() for each in (1.0, 3.0, 1e6)]
    assert far[2] < 1e-4
    assert far[2] <= far[0] + 1e-12


def test_a_forest_of_one_hand_made_tree():
    """One question, two leaves; the second tree is a bare leaf."""
    forest = Forest(
        root=np.array([0, 3], dtype=np.int32),
        feature=np.array([1, -1, -1, -1], dtype=np.int16),
        threshold=np.array([0.5, 0, 0, 0], dtype=np.float32),
        child=np.array([1, 0, 1, 2], dtype=np.int32),
        leaf=np.array([[1.0, 0.0], [0.0, 1.0], [0.5, 0.5]]),
    )
    got = forest.predict(np.array([[9.0, 0.4], [9.0, 0.5], [-9.0, 7.0]]))
    assert got == pytest.approx(np.array([[0.75, 0.25], [0.25, 0.75], [0.25, 0.75]]))


def test_a_grown_tree_is_well_formed():
    rng = np.random.default_rng(5)
    x = rng.normal(size=(200, 4))
    forest = grow_forest(x, np.eye(3)[rng.integers(3, size=200)], 8, rng)
    inner = forest.feature >= 0
    assert forest.leaf.sum(axis=1) == pytest.approx(np.ones(len(forest.leaf)))
    assert np.all(forest.child[~inner] < len(forest.leaf))
    # Both children of a node exist and come after it, so every walk ends.
    assert np.all(forest.child[inner] > np.flatnonzero(inner))
    assert np.all(forest.child[inner] + 1 < len(forest.feature))


def test_examples_of_one_kind_grow_one_leaf():
    x = np.random.default_rng(1).normal(size=(50, 3))
    forest = grow_forest(x, np.tile([1.0, 0.0], (50, 1)), 3, np.random.default_rng(2))
    assert len(forest.leaf) == 3
    assert forest.predict(x[:2]) == pytest.approx(np.array([[1.0, 0.0]] * 2))


def test_a_network_is_a_softmax_of_rectifiers():
    net = Net((np.array([[1.0, -1.0]]), np.eye(2)), (np.zeros(2), np.array([0.0, 0.5])))
    p = net.predict(np.array([[2.0], [-3.0]]))
    odds = p[:, 0] / p[:, 1]
    assert odds == pytest.approx(np.exp([2.0 - 0.5, -(3.0 + 0.5)]))
    # Scores beyond what an exponential holds are no trouble.
    assert np.isfinite(net.predict(np.array([[1e6]]))).all()


def test_training_gives_rare_examples_their_weight():
    """Nine of ten examples are of group 0, but both groups weigh alike."""
    rng = np.random.default_rng(3)
    x = np.zeros((100, 2))
    share = np.zeros((100, 2))
    share[:90, 0], share[90:, 1] = 1 / 90, 1 / 10
    p = train_net(x, share, 400, rng).predict(np.zeros((1, 2)))[0]
    assert p == pytest.approx([0.5, 0.5], abs=0.1)


def test_what_was_not_seen_is_a_side_of_its_own_for_trees_and_nothing_for_networks():
    values = np.array([[np.nan, 2.0, 400.0]])
    assert forest_inputs(values, np.array([1.0, 1.0, 0.0])).tolist() == [[-9.0, 1.0, 10.0]]
    got = network_inputs(values, np.array([1.0, 1.0, 0.0]), np.array([1.0, 0.5, 1.0]))
    assert got.tolist() == [[0.0, 2.0, 3.0]]


def test_a_dash_asks_for_the_difference_from_the_baseline():
    row = feature_row({"a": 3.0, "b": 1.0}, {"a": 1.0, "b": np.nan}, ("a", "a'", "b'"))
    assert row[0, :2].tolist() == [3.0, 2.0]
    assert np.isnan(row[0, 2])


@pytest.mark.parametrize("with_baseline", [False, True])
def test_a_signature_of_nothing_seen_still_gives_probabilities(with_baseline):
    nothing = dict.fromkeys(NAMES, np.nan)
    p = group_probabilities(nothing, nothing if with_baseline else None)
    assert p.sum() == pytest.approx(1)
    assert p.min() > 0


def test_groups_faults_and_words_fit_together():
    assert set(GROUPS) == set(FAULTS_OF) == set(WORDS) == set(PRIOR)
    faults = [fault for group in GROUPS for fault in FAULTS_OF[group]]
    assert len(faults) == len(set(faults))
    assert PRIOR["heavy_load"] == pytest.approx(1 / len(faults))
