"""Published and derived figures on lives, replacement and the largest sensible repair."""

import math

import pytest

from counterpoise.money.life import (
    Weibull,
    annual_costs,
    capital_recovery,
    economic_life,
    keep_years,
    marginal_costs,
    present_worth,
)
from counterpoise.money.worth import Replacement, break_even_minor, rules

WANG = Weibull(2.2, 13.9)


@pytest.mark.parametrize(
    ("rate", "years", "factor"),
    [(8, 10, 0.14903), (10, 5, 0.26380), (5, 12, 0.11283), (0, 4, 0.25)],
)
def test_capital_recovery_factors_of_interest_tables(rate, years, factor):
    assert capital_recovery(rate, years) == pytest.approx(factor, abs=5.1e-6)  # five printed digits


def test_economic_life_of_blank_and_tarquin():
    """Blank and Tarquin, Engineering Economy: totals to the unit, least in year 3."""
    values, running = (13000, 9000, 8000, 6000, 2000, 0), (2500, 2700, 3000, 3500, 4500)
    costs = annual_costs(marginal_costs(values, running, 10), 10)
    assert costs == pytest.approx((7800, 6276, 6132, 6556, 6579), abs=1.0)
    assert economic_life(values, running, 10)[0] == 3


def test_economic_life_of_newnan_chapter_13_problem_10():
    values = [50_000 * 0.8**n for n in range(11)]
    running = [3_500 + 2_000 * n for n in range(10)]
    years, cost = economic_life(values, running, 9)
    assert (years, round(cost)) == (4, 17_240)


def test_a_dear_first_year_does_not_send_the_defender_away():
    """Newnan chapter 13: marginal 6,120 in year 1 is above the challenger's 4,589, yet keep it four more years."""
    marginal = (6120, 1800, 2800, 3800, 4800)
    assert keep_years(marginal, 4589, 8) == 4
    by_hand = [present_worth(marginal[:n], 8) + 4589 / 0.08 / 1.08**n for n in range(6)]
    assert by_hand.index(min(by_hand)) == 4


def test_a_defender_dearer_every_year_goes_now():
    assert keep_years((5000, 5100, 5200), 4589, 8) == 0


@pytest.mark.parametrize(
    ("shape", "scale", "mean", "median"),
    [(2.2, 13.9, 12.31, 11.767), (2.2, 15.16, 13.43, 12.834), (2.2, 13.65, 12.09, 11.555)],
)
def test_published_means_of_washing_machine_lives(shape, scale, mean, median):
    """Wang et al. 2013; Forti et al. 2018 (two rows); means to the printed hundredth."""
    life = Weibull(shape, scale)
    assert life.mean() == pytest.approx(mean, abs=0.0051)
    assert life.quantile(0.5) == pytest.approx(median, abs=5.1e-4)


@pytest.mark.parametrize(
    ("age", "left", "five_more"),
    [(0, 12.310, 0.8999), (5, 8.301, 0.6845), (10, 5.893, 0.4977), (15, 4.406, 0.3520)],
)
def test_years_left_at_an_age(age, left, five_more):
    assert WANG.mean_residual(age) == pytest.approx(left, abs=5.1e-4)
    assert WANG.survival(5, age) == pytest.approx(five_more, abs=5.1e-5)


@pytest.mark.parametrize(("age", "limit"), [(2, 854), (6, 652), (10, 512), (12, 458)])
def test_largest_sensible_repair(age, limit):
    """A new machine at 985 (EIA 2023).

    The figures take 3 % as a force of interest; ours is a yearly rate.
    """
    as_force = Replacement(985, WANG, 100 * math.expm1(0.03))
    assert round(as_force.worth_minor(age)) == limit
    assert Replacement(985, WANG, 3.0).worth_minor(age) == pytest.approx(limit, abs=1.1)


def test_the_half_rule_meets_ours_at_ten_to_eleven_years():
    new = Replacement(98_500)
    assert break_even_minor(new, 10) > 49_250 > break_even_minor(new, 11)
    ours, half, used = rules(new, 10, used_minor=5_000)
    assert half.limit_minor == 49_250
    assert ours.limit_minor > 10 * used.limit_minor
    assert "5.9 years" in ours.why


@pytest.mark.parametrize(
    ("years", "failures", "first"),
    [(1, 0.00306, 0.00305), (2, 0.01405, 0.01395), (5, 0.10546, 0.10009)],
)
def test_failures_of_a_new_machine_under_guarantee(years, failures, first):
    assert WANG.cumulative_hazard(years) == pytest.approx(failures, abs=5.1e-6)
    assert WANG.failure(years) == pytest.approx(first, abs=5.1e-6)
