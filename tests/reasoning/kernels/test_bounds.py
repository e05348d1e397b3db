"""Bounds and policies on small models: what lies below what, and closed forms."""

from itertools import permutations, product

import numpy as np
import pytest
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.belief import mean_after, repaired
from counterpoise.reasoning.kernels.bounds import after_repair, best_ending, hindsight
from counterpoise.reasoning.kernels.clairvoyant_cache import (
    clairvoyant_row,
    expected_value,
    hindsight_of_all_sets,
)
from counterpoise.reasoning.kernels.dense_ratio_policy import chance_to_cure, marginals
from counterpoise.reasoning.kernels.expand_node import Expansion, expand_node
from counterpoise.reasoning.kernels.least_cut import least_cut
from counterpoise.reasoning.kernels.perfect_information import perfect_information_values
from counterpoise.reasoning.kernels.ratio_policy import list_belief, ratio_policy
from counterpoise.reasoning.kernels.workspace import new_workspace
from counterpoise.reasoning.model import Ending, Fault, Model, Repair, Retest
from counterpoise.reasoning.problem import compile_model

SIZES = [
    Size(4, 3, 4, 2),
    Size(4, 2, 4, 3, outcomes=3, independent=True, max_faults=3, misses=True, endings=2),
    Size(3, 2, 4, 2, independent=True, max_faults=2, endings=0),
    Size(4, 3, 5, 3, independent=True, max_faults=3, misses=True, endings=2, shuts=True),
]


def problems(count=6):
    for size in SIZES:
        for seed in range(count):
            yield compile_model(draw(np.random.default_rng([seed, 7]), size))


def test_a_repair_in_the_kernels_is_the_repair_of_belief_and_its_retest():
    for problem in problems():
        k, out = problem.arrays(), np.zeros(problem.prior.size)
        for r, transition in enumerate(problem.transitions):
            left, passed, moved = after_repair(k, r, problem.prior, out)
            after = repaired(problem.prior, transition)
            assert out == pytest.approx(after * (1.0 - k.pass_chance), abs=1e-15)
            assert left == pytest.approx(out.sum())
            assert passed == pytest.approx(float(after * k.pass_chance @ k.pass_value))
            assert moved == pytest.approx(
                float(problem.prior[transition.source] @ transition.chance)
            )


def test_the_mean_of_a_figure_after_a_repair_is_that_of_the_belief_after_it():
    rng = np.random.default_rng(3)
    for problem in problems():
        figure = rng.normal(size=problem.prior.size)
        for transition in problem.transitions:
            after = repaired(problem.prior, transition)
            assert problem.prior @ mean_after(figure, transition) == pytest.approx(after @ figure)
            assert after.sum() == pytest.approx(1.0)
            assert (after >= 0.0).all()


def test_the_best_ending_is_the_best_mean_and_minus_infinity_where_none_is_given():
    for problem in problems():
        k = problem.arrays()
        value, which = best_ending(k, problem.prior)
        means = k.ending_value @ problem.prior
        if means.size:
            assert (value, which) == (pytest.approx(means.max()), int(np.argmax(means)))
        else:
            assert (value, which) == (-np.inf, -1)


def test_ratio_policy_below_perfect_information_below_hindsight():
    for problem in problems():
        k, w = problem.arrays(), problem.prior
        low = ratio_policy(k, w, 0, 0, new_workspace(k))[0]
        known, quick = np.zeros(w.size), np.zeros(w.size)
        middle = perfect_information_values(k, problem.hypotheses.one_less, w, 0, 0, known)
        high = hindsight(k, w, 0, 0, quick)
        assert low <= middle + 1e-9
        assert middle <= high + 1e-9
        assert (known[w > 0] <= quick[w > 0] + 1e-9).all()


def test_open_panels_never_lower_and_tried_repairs_never_raise_what_hindsight_earns():
    for problem in problems():
        k, out = problem.arrays(), np.zeros(problem.prior.size)
        if k.forced:
            continue  # where one may not stop, a repair tried may be a cost saved
        whole = (1 << len(problem.access)) - 1
        before = hindsight(k, problem.prior, 0, 0, out)
        assert hindsight(k, problem.prior, 0, whole, out) >= before - 1e-12
        for r in range(len(problem.repairs)):
            assert hindsight(k, problem.prior, 1 << r, 0, out) <= before + 1e-12


def test_the_cache_holds_what_hindsight_says_of_every_set():
    for problem in problems(3):
        k = problem.arrays()
        work, every = new_workspace(k), np.ones(problem.prior.size)
        for tried, opened in product(range(1 << min(3, k.repair_cost.size)), range(4)):
            fresh, cached = np.zeros(every.size), np.zeros(every.size)
            hindsight(k, every, tried, opened, fresh)
            hindsight_of_all_sets(k, tried, opened, cached, work)
            assert cached == pytest.approx(fresh)
            row = clairvoyant_row(k, tried, opened, 0, work)
            assert work.values[row] == pytest.approx(fresh)
            count = list_belief(problem.prior, work.live, work.weights)
            mean = expected_value(work.values[row], work.live, work.weights, count)
            assert mean == pytest.approx(float(problem.prior @ fresh))


def test_the_chances_of_faults_and_cures_are_those_of_the_sets():
    for problem in problems():
        k, chances = problem.arrays(), np.zeros(len(problem.hypotheses.fault_ids) + 1)
        marginals(k, problem.prior, chances)
        assert chances[:-1] == pytest.approx(problem.prior @ problem.hypotheses.present)
        for r, repair in enumerate(problem.repairs):
            expected = sum(
                chances[i] * repair.cures.get(name, 0.0)
                for i, name in enumerate(problem.hypotheses.fault_ids)
            )
            assert chance_to_cure(k, r, chances) == pytest.approx(expected)


def test_two_repairs_of_one_fault_come_by_gain_over_their_chance_to_end_the_trying():
    """A fault that two repairs may cure, by hand; the sure one is dear."""
    model = Model(
        (Fault("a", 1.0),),
        repairs=(Repair("dear", 40.0, {"a": 1.0}), Repair("cheap", 5.0, {"a": 0.5})),
        retest=Retest(1.0),
        working=100.0,
        endings=(Ending("scrap", 0.0),),
    )
    problem = compile_model(model)
    k = problem.arrays()
    both = [-6 + 0.5 * 100 + 0.5 * (100 - 41), 100 - 41]  # cheap first, or dear first
    assert hindsight(k, problem.prior, 0, 0, np.zeros(2)) == pytest.approx(max(both))
    value, first, _ = ratio_policy(k, problem.prior, 0, 0, new_workspace(k))
    assert problem.repairs[first].id == "cheap"
    assert value == pytest.approx(both[0])


def test_a_missed_fault_comes_back_and_counts_against_the_repair():
    model = Model(
        (Fault("a", 1.0),),
        repairs=(Repair("mend", 10.0, {"a": 0.6}),),
        retest=Retest(2.0, misses=0.25, comeback=30.0),
        working=100.0,
        endings=(Ending("scrap", 5.0),),
    )
    problem = compile_model(model)
    k = problem.arrays()
    # cured; or missed and back later; or seen and scrapped
    worth = -12 + 0.6 * 100 + 0.4 * (0.25 * (100 - 30) + 0.75 * 5)
    assert ratio_policy(k, problem.prior, 0, 0, new_workspace(k))[0] == pytest.approx(worth)


def cut_by_trying(pairs, fee):
    """Least charge over all sets of repairs that come first, from the meaning of the cut."""
    n, best = len(fee), np.inf
    for inside in product((False, True), repeat=n):
        cost = sum(fee[i] for i in range(n) if not inside[i])
        for i, j in permutations(range(n), 2):
            if inside[i] and inside[j] and i < j:
                cost += min(pairs[i, j], pairs[j, i])
            elif inside[j] and not inside[i]:
                cost += pairs[i, j]
        best = min(best, cost)
    return best


def test_the_least_cut_is_the_least_over_all_sets():
    for seed in range(30):
        rng = np.random.default_rng(seed)
        n = int(rng.integers(0, 6))
        pairs = rng.exponential(size=(n, n)) * (rng.random((n, n)) < 0.7)
        fee = rng.exponential(size=n) * rng.choice([0.1, 1.0])
        assert least_cut(pairs, fee) == pytest.approx(cut_by_trying(pairs, fee), abs=1e-9)


def expansion(problem):
    actions, outcomes = len(problem.checks) + len(problem.repairs), problem.arrays().table.shape[1]
    return Expansion(*np.zeros((3, actions, max(1, outcomes))), np.zeros(actions))


@pytest.mark.parametrize("width", [0, 2, 50])
def test_one_step_ahead_keeps_probability_and_brackets(width):
    for problem in problems(4):
        k, into = problem.arrays(), expansion(problem)
        expand_node(k, problem.prior, (0, 0, 0), width, 1.0, into, new_workspace(k))
        checks = len(problem.checks)
        useful = np.isfinite(into.fixed)
        assert into.mass[:checks][useful[:checks]].sum(axis=1) == pytest.approx(1.0)
        assert (into.mass[checks:].sum(axis=1) <= 1.0 + 1e-12).all()
        possible = (into.mass > 0) & useful[:, None]
        assert (into.low[possible] <= into.high[possible] + 1e-12).all()
        assert (into.fixed[:checks][useful[:checks]] <= 0.0).all()


def test_looking_more_closely_only_raises_the_lower_ends():
    for problem in problems(4):
        k, rough, close = problem.arrays(), expansion(problem), expansion(problem)
        expand_node(k, problem.prior, (0, 0, 0), 0, 1.0, rough, new_workspace(k))
        expand_node(k, problem.prior, (0, 0, 0), 50, 1.0, close, new_workspace(k))
        possible = rough.mass > 0
        assert (close.low[possible] >= rough.low[possible] - 1e-6).all()
        assert close.fixed.tolist() == rough.fixed.tolist()


def test_what_has_been_done_is_not_done_again():
    for problem in problems(3):
        k, into = problem.arrays(), expansion(problem)
        everything = (1 << len(problem.checks)) - 1, (1 << len(problem.repairs)) - 1, 0
        expand_node(k, problem.prior, everything, 4, 1.0, into, new_workspace(k))
        assert (into.fixed == -np.inf).all()
        assert (into.mass == 0.0).all()
