"""Belief against plain enumeration over all sets of faults; order, grades, lone faults, repairs."""

from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.reasoning.judges import brute_force
from tests.reasoning.random_models import Size, draw

from counterpoise.errors import ModelError
from counterpoise.reasoning.belief import (
    marginals,
    normalised,
    observe,
    repaired,
    to_log,
    transition_of,
)
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.model import Check, Fault, Model, Repair

sizes = st.builds(
    Size,
    faults=st.integers(1, 5),
    checks=st.integers(1, 4),
    repairs=st.integers(1, 3),
    panels=st.just(0),
    outcomes=st.integers(2, 4),
    independent=st.booleans(),
    max_faults=st.integers(1, 4),
    sharp=st.booleans(),
)
quick = settings(deadline=None, max_examples=150, derandomize=True)


class Told:
    """A model with its sets named, and a log belief that starts at the prior."""

    def __init__(self, model):
        self.model, self.hypotheses = model, enumerate_hypotheses(model)
        self.names = [
            frozenset(self.hypotheses.fault_ids[i] for i in faults)
            for faults in self.hypotheses.sets
        ]
        self.belief = to_log(prior_of(model, self.hypotheses))

    def see(self, check, outcome):
        weights = np.eye(len(check.outcomes))[outcome]
        self.belief = observe(self.belief, outcome_table(check, self.hypotheses), weights)

    def mend(self, repair):
        after = repaired(np.exp(self.belief), transition_of(repair, self.hypotheses))
        self.belief = to_log(after)

    def still_wrong(self):
        sound = np.array([not faults for faults in self.names])
        self.belief = normalised(np.where(sound, -np.inf, self.belief))

    def by_name(self):
        return dict(zip(self.names, np.exp(self.belief).tolist(), strict=True))


def same(found, expected):
    assert sum(found.values()) == pytest.approx(1, abs=1e-12)
    for faults in set(found) | set(expected):
        assert found.get(faults, 0.0) == pytest.approx(expected.get(faults, 0.0), abs=1e-10)


def findings(rng, model, belief):
    """A possible outcome of every check, drawn from what the model says."""
    for check in model.checks:
        chances = np.zeros(len(check.outcomes))
        for faults, weight in belief.items():
            chances += weight * np.array(brute_force.outcome_chances(check, faults))
        outcome = int(rng.choice(len(chances), p=chances / chances.sum()))
        belief = brute_force.observe(belief, check, outcome)
        yield check, outcome


@quick
@given(size=sizes, seed=st.integers(0, 10**6))
def test_belief_is_what_plain_enumeration_says(size, seed):
    rng = np.random.default_rng(seed)
    model = draw(rng, size)
    told, expected = Told(model), brute_force.prior(model)
    same(told.by_name(), expected)
    for check, outcome in findings(rng, model, expected):
        told.see(check, outcome)
        expected = brute_force.observe(expected, check, outcome)
        same(told.by_name(), expected)


@quick
@given(size=sizes, seed=st.integers(0, 10**6))
def test_every_row_of_outcomes_sums_to_one(size, seed):
    model = draw(np.random.default_rng(seed), size)
    hypotheses = enumerate_hypotheses(model)
    for check in model.checks:
        table = outcome_table(check, hypotheses)
        assert table.min() >= 0
        assert table.sum(axis=0) == pytest.approx(1, abs=1e-12)
        for column, faults in enumerate(hypotheses.sets):
            named = frozenset(hypotheses.fault_ids[i] for i in faults)
            assert table[:, column] == pytest.approx(
                brute_force.outcome_chances(check, named), abs=1e-12
            )


@quick
@given(size=sizes, seed=st.integers(0, 10**6))
def test_the_order_of_evidence_does_not_matter(size, seed):
    rng = np.random.default_rng(seed)
    model = draw(rng, size)
    seen = list(findings(rng, model, brute_force.prior(model)))[:3]
    ends = []
    for order in permutations(seen):
        told = Told(model)
        for check, outcome in order:
            told.see(check, outcome)
        ends.append(np.exp(told.belief))
    for one, two in pairwise(ends):
        assert one == pytest.approx(two, abs=1e-12)


@quick
@given(size=sizes, seed=st.integers(0, 10**6))
def test_a_repair_changes_only_what_it_touches(size, seed):
    rng = np.random.default_rng(seed)
    model = draw(rng, size)
    told, expected = Told(model), brute_force.prior(model)
    for repair in model.repairs:
        told.mend(repair)
        expected = brute_force.repaired(expected, repair)
        same(told.by_name(), expected)
    left = {faults: weight for faults, weight in expected.items() if faults}
    assume(sum(left.values()) > 1e-6)
    told.still_wrong()
    same(told.by_name(), {faults: weight / sum(left.values()) for faults, weight in left.items()})


def independent(**priors):
    return Model(tuple(Fault(name, chance) for name, chance in priors.items()), "independent")


def test_after_a_failed_repair_another_fault_is_there():
    # by hand: a and b there with chances .2 and .5, at least one of them; a is repaired, and still
    # something is wrong
    told = Told(independent(a=0.2, b=0.5))
    told.mend(Repair("mend_a", 0, {"a": 1.0}))
    told.still_wrong()
    assert told.by_name()[frozenset("b")] == pytest.approx(1)


def test_a_repair_that_may_fail_leaves_its_fault_suspected():
    # by hand: one fault, a .6 or b .4; the repair of a holds in three of four, so .15 of a and .4
    # of b are left
    told = Told(Model((Fault("a", 0.6), Fault("b", 0.4))))
    told.mend(Repair("mend_a", 0, {"a": 0.75}))
    told.still_wrong()
    assert marginals(np.exp(told.belief), told.hypotheses) == pytest.approx(
        [0.15 / 0.55, 0.4 / 0.55]
    )


def test_one_fault_updating_and_repairing_differ():
    # the trap: "it was not a" leaves b and c as they were to each other; with several faults a
    # repair of a does too, but the sets that held a as well come down to what is left of them
    told = Told(independent(a=0.5, b=0.5, c=0.1))
    before = marginals(np.exp(told.belief), told.hypotheses)
    told.mend(Repair("mend_a", 0, {"a": 1.0}))
    told.still_wrong()
    after = marginals(np.exp(told.belief), told.hypotheses)
    b, c = 0.5 / 0.55, 0.1 / 0.55  # independent b and c, at least one there
    assert after == pytest.approx([0, b, c])
    assert before[1] / before[2] == pytest.approx(after[1] / after[2])
    assert after[1] > before[1]


def test_of_a_group_at_most_one_grade_is_there():
    model = Model(
        (Fault("early", 0.3, "bearing"), Fault("gone", 0.2, "bearing"), Fault("belt", 0.1)),
        "independent",
        max_faults=3,
    )
    told = Told(model)
    assert not [faults for faults in told.names if {"early", "gone"} <= faults]
    assert frozenset({"gone", "belt"}) in told.names
    odds = {"early": 0.3 / 0.7, "gone": 0.2 / 0.8, "belt": 0.1 / 0.9}
    total = sum(odds.values()) + odds["belt"] * (odds["early"] + odds["gone"])
    assert told.by_name()[frozenset(["gone", "belt"])] == pytest.approx(
        odds["gone"] * odds["belt"] / total
    )


def test_signs_of_one_grade_are_independent_given_the_grade():
    # three tests of one bearing: the grade takes up what they have in common, so they are not
    # counted thrice
    under = {"early": {"yes": 0.1}, "gone": {"yes": 0.9}}
    tests = [Check(f"t{i}", 1, ("no", "yes"), under, {"yes": 0.02}) for i in range(3)]
    told = Told(Model((Fault("early", 0.5), Fault("gone", 0.5))))
    for check in tests:
        told.see(check, 1)
    early, gone = ((1 - 0.9 * 0.98) ** 3, (1 - 0.1 * 0.98) ** 3)
    assert told.by_name()[frozenset(["gone"])] == pytest.approx(gone / (early + gone))


def test_a_lone_fault_is_never_there_with_another():
    told = Told(
        Model((Fault("load", 0.4, alone=True), Fault("a", 0.3), Fault("b", 0.3)), "independent")
    )
    assert [faults for faults in told.names if "load" in faults] == [frozenset(["load"])]
    assert frozenset("ab") in told.names


def test_nothing_wrong_only_where_the_model_allows_it():
    faults = (Fault("a", 0.3), Fault("b", 0.2))
    assert Told(Model(faults, "independent")).by_name()[frozenset()] == 0
    assert Told(Model(faults, "independent", nothing_wrong=True)).by_name()[
        frozenset()
    ] == pytest.approx(0.7 * 0.8)


def test_the_noisy_or_of_the_textbook():
    # W9: Russell and Norvig, AIMA, noisy-OR table; P(fever) for cold, flu, malaria = FFF .. TTT
    inhibitions = {"cold": 0.6, "flu": 0.2, "malaria": 0.1}
    printed = [0, 0.9, 0.8, 0.98, 0.4, 0.94, 0.88, 0.988]
    fever = Check(
        "fever", 0, ("no", "yes"), {name: {"yes": 1 - q} for name, q in inhibitions.items()}
    )
    told = Told(independent(cold=0.5, flu=0.5, malaria=0.5))
    table = dict(zip(told.names, outcome_table(fever, told.hypotheses)[1].tolist(), strict=True))
    for row, chance in enumerate(printed):
        present = frozenset(
            name for bit, name in zip((4, 2, 1), inhibitions, strict=True) if row & bit
        )
        assert brute_force.noisy_or(inhibitions, present) == pytest.approx(chance, abs=1e-12)
        assert table[present] == pytest.approx(chance, abs=1e-12)


def test_the_leak_is_one_more_independent_cause():
    # Díez 1993, by hand: worst of the fault's own outcome and the leak's
    check = Check(
        "listen",
        0,
        ("ok", "worn", "bad"),
        {"a": {"worn": 0.3, "bad": 0.5}},
        {"worn": 0.05, "bad": 0.01},
    )
    told = Told(independent(a=0.5, b=0.5))
    table = dict(zip(told.names, outcome_table(check, told.hypotheses).T.tolist(), strict=True))
    ok, no_worse = 0.2 * 0.94, 0.5 * 0.99
    assert table[frozenset("a")] == pytest.approx([ok, no_worse - ok, 1 - no_worse])
    assert table[frozenset("ab")] == pytest.approx(table[frozenset("a")])
    assert table[frozenset("b")] == pytest.approx([0.94, 0.05, 0.01])


def test_an_exclusive_check_takes_its_rows_as_they_stand():
    rows = {"a": {"worn": 0.3, "bad": 0.5}}
    check = Check(
        "listen", 0, ("ok", "worn", "bad"), rows, {"worn": 0.05, "bad": 0.01}, exclusive=True
    )
    told = Told(independent(a=0.5, b=0.5))
    table = dict(zip(told.names, outcome_table(check, told.hypotheses).T.tolist(), strict=True))
    assert table[frozenset("a")] == pytest.approx([0.2, 0.3, 0.5])
    assert table[frozenset("ab")] == pytest.approx([0.2, 0.3, 0.5])
    assert table[frozenset("b")] == pytest.approx([0.94, 0.05, 0.01])


def test_answers_without_an_order_speak_of_one_fault_present_each_as_often():
    rows = {"a": {"worn": 1.0}, "b": {"bad": 1.0}}
    check = Check("ask", 0, ("ok", "worn", "bad"), rows, {"worn": 0.05}, unordered=True)
    told = Told(independent(a=0.5, b=0.5, c=0.5))
    table = dict(zip(told.names, outcome_table(check, told.hypotheses).T.tolist(), strict=True))
    assert table[frozenset("a")] == pytest.approx([0.0, 1.0, 0.0])
    assert table[frozenset("ab")] == pytest.approx([0.0, 0.5, 0.5])
    assert table[frozenset("abc")] == pytest.approx([0.0, 0.5, 0.5])
    assert table[frozenset("c")] == pytest.approx([0.95, 0.05, 0.0])


def test_could_not_tell_is_no_evidence():
    model = draw(
        np.random.default_rng(1), Size(4, 1, 1, 0, outcomes=3, independent=True, max_faults=2)
    )
    told = Told(model)
    after = observe(told.belief, outcome_table(model.checks[0], told.hypotheses), np.ones(3))
    assert np.exp(after) == pytest.approx(np.exp(told.belief), abs=1e-12)


def test_evidence_that_nothing_explains_is_refused():
    told = Told(Model((Fault("a", 1.0),)))
    with pytest.raises(ModelError, match="no set of faults can explain"):
        told.see(Check("smell", 0, ("no", "yes")), 1)
