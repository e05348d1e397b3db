"""Followed plans: what is counted adds up, and scenarios that are the plan's own change nothing."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csc_array
from tests.reasoning.random_models import Size, draw

from counterpoise.reasoning.actions import Action, ActionBounds, Plan, action_of
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.kernels.monte_carlo import WORTH
from counterpoise.reasoning.planning.bounds_refinement import RefinedBounds, capped, certify
from counterpoise.reasoning.planning.break_even import break_even_change, break_even_probability
from counterpoise.reasoning.planning.forecast import Forecast, WeightedStates
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead, plan_ahead
from counterpoise.reasoning.planning.monte_carlo import Measures, simulate_machines
from counterpoise.reasoning.planning.policy_rollout import PolicyRollout, opening_total
from counterpoise.reasoning.planning.scenario_values import ScenarioRollout, shortfall
from counterpoise.reasoning.planning.timed_solver import better_of, plan_within
from counterpoise.reasoning.problem import compile_model

SEVERAL = Size(4, 3, 4, 2, outcomes=3, independent=True, max_faults=2, misses=True, endings=2)
SHUTTING = Size(4, 3, 4, 3, independent=True, max_faults=2, misses=True, endings=2, shuts=True)


def grown(seed, size=SEVERAL, growths=12):
    """A tree of a model with checks at odd prices: where two acts tie, rounding would choose."""
    rng = np.random.default_rng(seed)
    model = draw(rng, size)
    odd = tuple(replace(c, cost=c.cost + rng.uniform(0.1, 1.0)) for c in model.checks)
    look = Lookahead(compile_model(replace(model, checks=odd)))
    look.plan(Effort(growths=growths))
    return look


def measures_of(problem, rng):
    k = problem.arrays()
    sizes = (k.check_cost.size, k.repair_cost.size, k.panel_cost.size, k.repair_cost.size)
    return Measures(*(rng.uniform(1.0, 30.0, size) for size in sizes))


def first_acts(problem):
    return [None, *range(len(problem.checks) + len(problem.repairs) + len(problem.endings))]


@pytest.mark.parametrize("seed", range(4))
def test_every_machine_of_a_followed_plan_is_sound_missed_or_ended(seed):
    look, rng = grown(seed), np.random.default_rng(seed)
    for act in first_acts(look.problem):
        totals = Forecast(look, measures_of(look.problem, rng), act=act).totals
        ended = sum(totals.ended.values(), np.zeros(look.problem.prior.size))
        assert totals.sound + totals.missed + ended == pytest.approx(look.problem.prior)
        assert (totals.check_chance <= 1.0 + 1e-12).all()
        assert (totals.repair_chance <= 1.0 + 1e-12).all()
        assert (totals.lost[0] <= totals.minutes + 1e-9).all()
        assert (totals.lost[1] <= totals.repair_cost + 1e-9).all()


@pytest.mark.parametrize("size", [SEVERAL, SHUTTING])
@pytest.mark.parametrize("seed", range(4))
def test_under_its_own_figures_a_plan_earns_what_it_is_forecast_to(seed, size):
    look = grown(seed, size)
    problem = look.problem
    arrays, rng = problem.arrays(), np.random.default_rng(seed)
    for act in first_acts(problem):
        worth = ScenarioRollout(look, [arrays, arrays], np.tile(problem.prior, (2, 1)), act=act)
        totals = Forecast(look, measures_of(problem, rng), act=act).totals
        assert worth.worth == pytest.approx(totals.worth.sum(), abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_dearer_scenarios_cost_what_is_used_and_no_more(seed):
    """Every check a coin dearer: the plan loses the number of checks that it makes."""
    look = grown(seed)
    problem, k = look.problem, look.problem.arrays()
    dearer = k._replace(check_cost=k.check_cost + 1.0)
    beliefs = np.tile(problem.prior, (2, 1))
    for act in first_acts(problem):
        cheap, dear = ScenarioRollout(look, [k, dearer], beliefs, act=act).worth
        used = Forecast(look, measures_of(problem, np.random.default_rng(0)), act=act).totals
        assert cheap - dear == pytest.approx(used.check_chance.sum(), abs=1e-9)


def test_worth_is_linear_in_what_is_there():
    look = grown(1)
    k, rng = look.problem.arrays(), np.random.default_rng(2)
    one, other = rng.dirichlet(np.ones(look.problem.prior.size), 2)
    beliefs = np.array([one, other, 0.3 * one + 0.7 * other])
    a, b, mixed = ScenarioRollout(look, [k] * 3, beliefs).worth
    assert mixed == pytest.approx(0.3 * a + 0.7 * b)


def test_a_transition_matrix_is_the_repair_of_belief():
    look = grown(2)
    rollout, rng = PolicyRollout(look), np.random.default_rng(0)
    for r, transition in enumerate(look.problem.transitions):
        matrix = rollout.transition_matrix(r)
        assert matrix.sum(axis=0) == pytest.approx(1.0)
        belief = rng.dirichlet(np.ones(look.problem.prior.size))
        assert matrix @ belief == pytest.approx(repaired(belief, transition))
        assert rollout.transition_matrix(r) is matrix


def test_weighted_states_move_as_a_matrix_does():
    rng = np.random.default_rng(5)
    matrix = rng.random((5, 5)) * (rng.random((5, 5)) < 0.5)
    now, origin = rng.integers(0, 5, 12), rng.integers(0, 5, 12)
    states = WeightedStates(now, origin, rng.random(12))
    dense = np.zeros((5, 5))
    np.add.at(dense, (now, origin), states.weight)
    moved = states.moved(csc_array(matrix))
    after = np.zeros((5, 5))
    np.add.at(after, (moved.now, moved.origin), moved.weight)
    assert after == pytest.approx(matrix @ dense)
    assert states.by_origin(5) == pytest.approx(dense.sum(axis=0))


def test_states_without_weight_are_left_out():
    states = WeightedStates(np.array([0, 1, 1]), np.array([2, 0, 2]), np.array([0.5, 0.2, 0.3]))
    kept = states.times(np.array([0.0, 2.0]))
    assert kept.now.tolist() == [1, 1]
    assert kept.weight.tolist() == [0.4, 0.6]
    assert kept.by_origin(3).tolist() == [0.4, 0.0, 0.6]


def test_a_plan_that_ends_at_once_repairs_where_it_is_made_to():
    problem = compile_model(draw(np.random.default_rng(3), Size(4, 2, 3, 1)))
    worthless = replace(problem, working=-1000.0)
    look = Lookahead(worthless)
    look.plan(Effort(growths=2))
    measures = measures_of(worthless, np.random.default_rng(0))
    forecast = Forecast(look, measures)
    assert forecast.first.kind == "ending"
    assert forecast.repairing().first.kind == "repair"
    assert forecast.minutes == 0.0
    repairing = Lookahead(problem)
    repairing.plan(Effort(growths=2))
    going = Forecast(repairing, measures, act=len(problem.checks))
    assert repairing.root.act >= len(problem.checks) + 3 or going.repairing() is going


def test_opening_is_summed_over_what_is_still_closed():
    each = np.array([1.0, 10.0, 100.0])
    assert opening_total(0b101, 0b000, each) == 101.0
    assert opening_total(0b101, 0b001, each) == 100.0
    assert opening_total(0b000, 0b111, each) == 0.0


@pytest.mark.parametrize("machines", [1, 7, 50])
def test_however_few_machines_are_drawn_they_stand_for_all(machines):
    problem = compile_model(draw(np.random.default_rng(6), SEVERAL))
    measures = measures_of(problem, np.random.default_rng(1))
    ended = len(problem.checks) + len(problem.repairs)
    # what the ending brings is all that there is
    assert simulate_machines(problem, ended, measures, machines)[:, :WORTH].sum() == 0.0
    one_check = simulate_machines(problem, 0, measures, machines)
    least = measures.check_minutes[0] * problem.prior
    assert (one_check[:, 0] >= least - 1e-9).all()


def test_the_shortfall_lies_between_the_worst_and_the_mean_and_rises_with_the_share():
    rng = np.random.default_rng(7)
    for _ in range(30):
        worth, weights = rng.normal(size=8), rng.dirichlet(np.ones(8))
        shares = [0.01, 0.1, 0.25, 0.5, 0.9, 1.0]
        values = [shortfall(worth, weights, share) for share in shares]
        assert values == sorted(values)
        assert values[0] >= worth.min() - 1e-12
        assert values[-1] == pytest.approx(weights @ worth)
        assert shortfall(worth + 3.0, weights, 0.25) == pytest.approx(values[2] + 3.0)
        assert shortfall(2.0 * worth, weights, 0.25) == pytest.approx(2.0 * values[2])


def test_the_edge_scenario_counts_with_the_part_that_fits():
    worth, weights = np.array([0.0, 10.0, 20.0]), np.array([0.1, 0.4, 0.5])
    assert shortfall(worth, weights, 0.25) == pytest.approx((0.1 * 0.0 + 0.15 * 10.0) / 0.25)


def test_break_even_does_not_depend_on_the_unit_or_on_who_is_first():
    rng = np.random.default_rng(8)
    for _ in range(50):
        prior, present = rng.dirichlet(np.ones(5)), rng.random(5) < 0.5
        lead = rng.normal(size=5) * prior
        even = break_even_probability(prior, lead, present)
        assert break_even_probability(prior, 100.0 * lead, present) == pytest.approx(even)
        assert break_even_probability(prior, -lead, present) == pytest.approx(even)
        without = break_even_probability(prior, lead, ~present)
        assert (even is None) == (without is None)
        if even is not None:
            assert without == pytest.approx(1.0 - even)


def test_after_the_break_even_change_nothing_is_left_of_the_lead():
    for lead, slope in ((5.0, 2.0), (-5.0, 2.0), (5.0, -0.5), (0.0, 1.0)):
        assert lead + slope * break_even_change(lead, slope) == pytest.approx(0.0)
    assert break_even_change(5.0, 1e-13) is None


def plan(lower, upper, name="a", states=1):
    first = Action("repair", name)
    return Plan(lower, upper, first, (ActionBounds(first, lower, upper),), states)


def test_the_better_ends_are_taken_whichever_plan_comes_first():
    wide, close = plan(1.0, 9.0, "a"), plan(3.0, 10.0, "b")
    for both in (better_of(wide, close), better_of(close, wide)):
        assert (both.lower, both.upper, both.first.id) == (3.0, 9.0, "b")
    assert better_of(plan(2.0, 5.0), plan(3.0, 2.5)).upper == 3.0  # crossed by rounding


def test_a_plan_is_exact_to_rounding_of_its_size():
    assert plan(1e6, 1e6 + 0.05).exact
    assert not plan(1.0, 1.05).exact
    assert plan(-3.0, -3.0 + 1e-8).exact
    assert (plan(2.0, 5.0).gap, plan(2.0, 5.0).value) == (3.0, 2.0)


def test_actions_are_numbered_checks_repairs_endings_and_beyond_is_exhausted():
    problem = compile_model(draw(np.random.default_rng(3), Size(3, 2, 3, 0, endings=2)))
    kinds = [action_of(problem, number).kind for number in range(8)]
    assert kinds == ["check"] * 2 + ["repair"] * 3 + ["ending"] * 2 + ["exhausted"]
    assert action_of(problem, 2).id == problem.repairs[0].id


def test_refined_bounds_lie_within_those_they_refine():
    for seed in range(5):
        problem = compile_model(draw(np.random.default_rng(seed), SEVERAL))
        ahead = plan_ahead(problem, Effort(growths=4))
        refined = certify(problem, Effort(seconds=0.05), ahead)
        assert ahead.lower <= refined.lower <= refined.upper <= ahead.upper + 1e-12
        assert refined.states >= ahead.states
        assert capped(problem, ahead).upper <= ahead.upper
        bounds = RefinedBounds(problem)
        assert bounds.follow(1e9).value == pytest.approx(bounds.stopped.value)


def test_a_bracket_within_the_gap_asked_for_is_not_worked_on():
    problem = compile_model(draw(np.random.default_rng(2), SEVERAL))
    at_once = certify(problem, Effort(seconds=60.0, gap=1e9))
    assert at_once.states == 0
    assert at_once.lower == RefinedBounds(problem).stopped.value


def test_a_time_of_nothing_still_gives_a_valid_plan():
    problem = compile_model(draw(np.random.default_rng(4), Size(6, 5, 5, 2)))
    quick = plan_within(problem, 1e-6)
    assert quick.lower <= quick.upper
    assert quick.first.kind in {"check", "repair", "ending", "exhausted"}
