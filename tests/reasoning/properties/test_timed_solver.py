"""A plan within a time."""

import itertools

from benchmarks.distance import distances, drawn

from counterpoise.reasoning.planning.exact import solve_exactly
from counterpoise.reasoning.planning.timed_solver import better_of, plan_within
from counterpoise.reasoning.problem import compile_model


def ticking(step):
    """A clock that goes on by so much each time it is asked."""
    return itertools.count(0.0, step).__next__


def test_a_small_model_is_proven_at_once():
    plan = plan_within(compile_model(drawn(5)), 0.5)
    assert plan.exact


def test_however_short_the_time_the_bracket_holds_and_longer_is_no_worse():
    problem = compile_model(drawn(3))
    best = solve_exactly(problem, slots=1 << 16).value
    short, longer = (plan_within(problem, 0.002, clock=ticking(step)) for step in (0.002, 0.0001))
    for plan in (short, longer):
        assert plan.lower - 1e-9 <= best <= plan.upper + 1e-9
    assert longer.lower >= short.lower - 1e-12
    assert not short.exact


def test_the_better_ends_of_two_brackets_are_taken():
    problem = compile_model(drawn(3))
    one, other = (
        plan_within(problem, 0.001, clock=ticking(1)),
        plan_within(problem, 0.02, clock=ticking(0.005)),
    )
    both = better_of(one, other)
    assert both.lower == max(one.lower, other.lower)
    assert both.upper == min(one.upper, other.upper)


def test_the_distance_to_the_best_plan_is_small_on_published_sizes(capsys):
    found = distances((1, 3, 4, 5), 0.1, 60_000)
    capsys.readouterr()
    assert found["proven"] == 4
    assert (
        found["worst_percent"] < 6.17
    )  # the worst of one-question look-ahead in print: Jensen et al. 2001, Table 2
    assert found["mean_percent"] < 1.81  # and their mean
