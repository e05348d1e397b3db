"""What a model may say and what it may not, in words that name the place."""

from dataclasses import replace

import numpy as np
import pytest
from tests.reasoning.judges import brute_force
from tests.reasoning.random_models import Size, draw

from counterpoise.errors import ModelError
from counterpoise.reasoning import hypotheses as sets_of_faults
from counterpoise.reasoning.hypotheses import enumerate_hypotheses, prior_of
from counterpoise.reasoning.likelihood import full_row, outcome_table
from counterpoise.reasoning.likelihood_words import WORDS, likelihood_word
from counterpoise.reasoning.model import (
    Access,
    Check,
    Ending,
    Fault,
    Model,
    Repair,
    Retest,
    validate,
)
from counterpoise.reasoning.problem import MOST_ACTIONS, compile_model, panels_needed

NAN = float("nan")
A, B = Fault("a", 0.3), Fault("b", 0.2)


def mistakes(**parts):
    """Everything wrong with a model that is not made, so that it can be wrong."""
    model = object.__new__(Model)
    sound = {
        "faults": (A, B),
        "prior": "exactly_one",
        "max_faults": 3,
        "nothing_wrong": False,
        "access": (),
        "checks": (),
        "repairs": (),
        "retest": Retest(),
        "working": 0.0,
        "endings": (),
    }
    for name, value in (sound | parts).items():
        object.__setattr__(model, name, value)
    return validate(model)


def look(**row):
    return Check("look", 1.0, ("no", "yes"), **row)


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"faults": ()}, "there is no fault: give at least one"),
        ({"faults": (Fault("a", 1.5),)}, "fault a: prior 1.5 is not between 0 and 1"),
        ({"faults": (Fault("a", 0.0),)}, "every prior is zero: give at least one fault a chance"),
        (
            {"prior": "independent", "faults": (Fault("a", 1.0), B)},
            "a prior of 1 among independent faults: leave the certain fault out or lower it",
        ),
        ({"max_faults": 0}, "max_faults is 0: it must be 1 or more"),
        ({"access": (Access("lid", -1.0),)}, "access lid: the cost to open is -1: "),
        ({"access": (Access("lid", close=NAN),)}, "access lid: the cost to close is nan: "),
        ({"access": (Access("lid", behind="door"),)}, "access lid: behind door is not in access"),
        ({"access": (Access("lid", behind="lid"),)}, "access lid: it lies behind itself"),
        ({"checks": (replace(look(), access="lid"),)}, "look: access lid is not in access"),
        ({"checks": (replace(look(), cost=-2.0),)}, "check look: cost -2 must not be negative"),
        ({"checks": (replace(look(), cost=NAN),)}, "check look: cost nan must not be negative"),
        (
            {"checks": (Check("look", 1.0, ("yes",)),)},
            "check look: it needs two outcomes or more",
        ),
        (
            {"checks": (Check("look", 1.0, ("yes", "yes")),)},
            "check look: an outcome is named twice",
        ),
        (
            {"checks": (look(under={"a": {"maybe": 0.5}}),)},
            "check look, under a: outcome maybe is not in outcomes",
        ),
        (
            {"checks": (look(under={"a": {"no": 0.7, "yes": 0.7}}),)},
            "check look, under a: the chances sum to 1.4, more than 1",
        ),
        (
            {"checks": (look(under={"a": {"no": 0.2, "yes": 0.7}}),)},
            "check look, under a: all outcomes are named but their chances sum to 0.9, not 1",
        ),
        (
            {"checks": (look(under={"c": {"yes": 0.5}}),)},
            "check look: fault c is not in faults",
        ),
        ({"repairs": (Repair("fix", -1.0, {}),)}, "repair fix: cost -1 must not be negative"),
        ({"repairs": (Repair("fix", 1.0, {"c": 1.0}),)}, "repair fix: fault c is not in faults"),
        (
            {"repairs": (Repair("fix", 1.0, {"a": 1.1}),)},
            "repair fix: chance 1.1 to cure a is not between 0 and 1",
        ),
        ({"retest": Retest(misses=1.0)}, "retest: misses 1 must be 0 or more and below 1"),
        ({"retest": Retest(cost=-1.0)}, "retest: cost -1 must not be negative"),
        ({"retest": Retest(comeback=NAN)}, "retest: comeback nan must not be negative"),
        (
            {"endings": (Ending("scrap", 0.0, {"c": 1.0}),)},
            "ending scrap: fault c is not in faults",
        ),
        ({"faults": (A, A)}, "fault a is given twice"),
        (
            {"repairs": (Repair("fix", 1.0, {}), Repair("fix", 2.0, {}))},
            "repair fix is given twice",
        ),
    ],
)
def test_a_mistake_is_named_and_is_the_only_one(parts, message):
    problems = mistakes(**parts)
    assert [text for text in problems if text.startswith(message)], problems
    assert len(problems) == 1


def test_a_mistake_with_consequences_is_named_with_them():
    assert mistakes(faults=(Fault("a", NAN),)) == [
        "fault a: prior nan is not between 0 and 1",
        "every prior is zero: give at least one fault a chance",
    ]
    assert mistakes(checks=(look(otherwise={"yes": 1.5}),)) == [
        "check look, otherwise: chance 1.5 is not between 0 and 1",
        "check look, otherwise: the chances sum to 1.5, more than 1",
    ]
    ring = (Access("x", behind="y"), Access("y", behind="z"), Access("z", behind="y"))
    assert mistakes(access=ring) == [f"access {name}: it lies behind itself" for name in "xyz"]


def test_all_mistakes_are_told_at_once_where_the_model_is_made():
    with pytest.raises(ModelError, match="cannot be solved as written") as refused:
        Model((Fault("a", 2.0),), max_faults=0, retest=Retest(cost=-1.0))
    for part in ("prior 2", "max_faults is 0", "cost -1"):
        assert part in str(refused.value)


def test_a_sound_model_has_no_mistake():
    for seed in range(20):
        model = draw(np.random.default_rng(seed), Size(4, 3, 3, 3, outcomes=3, misses=True))
        assert validate(model) == []
    assert mistakes(checks=(look(under={"a": {"no": 0.3, "yes": 0.7 + 1e-12}}),)) == []


def test_sets_are_closed_under_taking_a_fault_away():
    for seed in range(20):
        size = Size(6, 0, 0, 0, independent=True, max_faults=3)
        hypotheses = enumerate_hypotheses(draw(np.random.default_rng(seed), size))
        assert hypotheses.sets[0] == ()
        for faults in hypotheses.sets:
            for fault in faults:
                assert tuple(f for f in faults if f != fault) in hypotheses.index


def test_a_part_of_the_sets_keeps_all_smaller_sets():
    rng = np.random.default_rng(4)
    size = Size(6, 0, 0, 0, independent=True, max_faults=3)
    hypotheses = enumerate_hypotheses(draw(rng, size))
    for _ in range(20):
        rows = rng.choice(len(hypotheses.sets), 3, replace=False)
        smaller, kept = hypotheses.subset(rows)
        assert [hypotheses.sets[row] for row in kept] == list(smaller.sets)
        assert {hypotheses.sets[row] for row in rows} <= set(smaller.sets)
        assert smaller.sets[0] == ()
        assert smaller.one_less.max() < len(smaller.sets)  # closed, or it could not be made


def test_sums_and_products_run_over_the_faults_of_each_set():
    rng = np.random.default_rng(5)
    model = draw(rng, Size(5, 0, 0, 0, independent=True, max_faults=3))
    hypotheses = enumerate_hypotheses(model)
    figures = rng.normal(size=len(model.faults))
    per_fault = dict(zip(hypotheses.fault_ids, figures.tolist(), strict=True))
    assert hypotheses.sum_over(per_fault) == pytest.approx(hypotheses.present @ figures)
    products = [np.prod(figures[list(faults)]) for faults in hypotheses.sets]
    assert hypotheses.product_over(figures) == pytest.approx(products)
    both = hypotheses.product_over(np.stack([figures, 2.0 * figures]))
    assert both[1] == pytest.approx(both[0] * 2.0 ** hypotheses.present.sum(axis=1))


def test_more_sets_than_memory_holds_are_refused_while_they_are_counted(monkeypatch):
    monkeypatch.setattr(sets_of_faults, "MAX_HYPOTHESES", 10)
    faults = tuple(Fault(f"f{i}", 0.1) for i in range(5))
    with pytest.raises(ModelError, match="more than 10 hypotheses"):
        enumerate_hypotheses(Model(faults, "independent", max_faults=2))
    assert len(enumerate_hypotheses(Model(faults, "independent", max_faults=1)).sets) == 6


def test_a_certain_fault_alone_is_certain():
    model = Model((Fault("a", 1.0),), "independent", nothing_wrong=True)
    assert prior_of(model, enumerate_hypotheses(model)).tolist() == [0.0, 1.0]


def test_priors_that_are_possible_only_together_have_no_chance():
    lone = Model((Fault("a", 0.0), Fault("b", 0.5)), "independent", max_faults=1)
    assert prior_of(lone, enumerate_hypotheses(lone)).tolist() == [0.0, 0.0, 1.0]


def test_what_a_row_leaves_over_goes_to_the_first_outcome():
    check = Check("listen", 0.0, ("ok", "worn", "bad"))
    assert full_row(check, {"bad": 0.25}).tolist() == [0.75, 0.0, 0.25]
    assert full_row(check, {}).tolist() == [1.0, 0.0, 0.0]
    assert full_row(check, {"ok": 0.2, "worn": 0.3, "bad": 0.5}).sum() == 1.0


def test_worse_causes_make_worse_outcomes_likelier():
    """Adding a fault to a set never lowers the chance of at least as bad an outcome (noisy-MAX)."""
    for seed in range(15):
        size = Size(4, 3, 0, 0, outcomes=4, independent=True, max_faults=3)
        model = draw(np.random.default_rng(seed), size)
        hypotheses = enumerate_hypotheses(model)
        for check in model.checks:
            if check.exclusive or check.unordered:
                continue
            at_least = outcome_table(check, hypotheses)[::-1].cumsum(axis=0)
            for m in range(hypotheses.members.shape[1]):
                less = at_least[:, hypotheses.one_less[:, m]]
                assert (at_least >= less - 1e-12).all()


def test_panels_are_needed_with_all_that_lies_before_them():
    access = (Access("a"), Access("b", behind="a"), Access("c", behind="b"), Access("d"))
    assert panels_needed(access, None) == 0
    assert [panels_needed(access, name) for name in "abcd"] == [0b1, 0b11, 0b111, 0b1000]


def test_more_actions_than_a_machine_word_holds_are_refused():
    repairs = tuple(Repair(f"r{i}", 1.0, {}) for i in range(MOST_ACTIONS))
    with pytest.raises(ModelError, match=f"fewer than {MOST_ACTIONS} can be planned over"):
        compile_model(Model((A,), repairs=repairs))
    assert len(compile_model(Model((A,), repairs=repairs[1:])).repairs) == MOST_ACTIONS - 1


def test_the_bare_retest_is_a_repair_where_nothing_may_be_wrong():
    faults = (A, B)
    without = compile_model(Model(faults, "independent"))
    given = compile_model(Model(faults, "independent", nothing_wrong=True, retest=Retest(4.0)))
    assert without.repairs == ()
    assert [(r.id, r.cures) for r in given.repairs] == [("retest", {})]
    assert given.arrays().repair_cost.tolist() == [4.0]


def test_tables_of_a_problem_are_those_of_plain_python():
    size = Size(4, 3, 3, 3, outcomes=3, independent=True, max_faults=2, endings=2)
    for seed in range(10):
        model = draw(np.random.default_rng(seed), size)
        problem = compile_model(model)
        names = [
            frozenset(problem.hypotheses.fault_ids[i] for i in faults)
            for faults in problem.hypotheses.sets
        ]
        k = problem.arrays()
        assert (k.forced, k.one_fault, k.separable) == (False, False, False)
        for c, check in enumerate(model.checks):
            for h, faults in enumerate(names):
                chances = brute_force.outcome_chances(check, faults)
                assert k.table[c, : len(chances), h] == pytest.approx(chances)
        for e, ending in enumerate(model.endings):
            worth = [ending.base + sum(ending.per_fault.get(f, 0.0) for f in s) for s in names]
            assert k.ending_value[e] == pytest.approx(worth)
        assert (k.ending_bound >= k.ending_value.max(axis=0) - 1e-12).all()


def test_narrowing_keeps_the_likeliest_sets_and_says_what_it_leaves_out():
    size = Size(6, 3, 3, 2, independent=True, max_faults=3)
    for seed in range(10):
        problem = compile_model(draw(np.random.default_rng(seed), size))
        for share, most in ((0.05, 10_000), (0.5, 10_000), (0.0, 4)):
            smaller, dropped = problem.narrowed(share, most)
            assert smaller.prior.sum() == pytest.approx(1.0)
            assert (dropped >= 0.0).all()
            assert dropped.sum() <= share + 1e-9 or (smaller.prior > 0).sum() == most
            kept = np.flatnonzero(dropped < problem.prior)
            assert problem.prior[kept].min() >= dropped.max() - 1e-12
            assert [t.shape[1] for t in smaller.tables] == [len(smaller.hypotheses.sets)] * 3
            for transition in smaller.transitions:
                assert (transition.target < transition.source).all()


def test_narrowing_to_everything_changes_nothing():
    problem = compile_model(draw(np.random.default_rng(1), Size(4, 2, 3, 1)))
    same, dropped = problem.narrowed(0.0, 10_000)
    assert same.prior == pytest.approx(problem.prior)
    assert dropped == pytest.approx(0.0)
    assert same.hypotheses.sets == problem.hypotheses.sets


def test_a_word_for_every_probability_and_none_is_likelier_than_the_next():
    assert [likelihood_word(p) for p in (1.0, 0.97, 0.8, 0.5, 0.2, 0.05, 0.0)] == [
        "almost certain", "almost certain", "very likely", "likely", "possible", "unlikely",
        "hardly",
    ]  # fmt: skip
    assert likelihood_word(0.0499) == "hardly"
    floors = [floor for floor, _ in WORDS]
    assert floors == sorted(floors, reverse=True)
    assert floors[-1] == 0.0
