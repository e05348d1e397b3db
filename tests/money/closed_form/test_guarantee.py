import math

import numpy as np
import pytest

from counterpoise.errors import InputError
from counterpoise.money.guarantee import Cover
from counterpoise.money.life import Weibull

WANG = Weibull(2.2, 13.9)


def test_a_guarantee_on_the_repair_alone():
    cover = Cover(returns=0.08, comeback_minor=9000, shows_months=2.0, margin_percent=0)
    assert cover.held_not(6) == pytest.approx(0.08 * (1 - math.exp(-3)))
    assert cover.comes_back(6) == pytest.approx(cover.held_not(6))
    assert cover.cost_minor(6) == pytest.approx(0.08 * (1 - math.exp(-3)) * 9000)
    assert cover.cost_minor(0) == 0
    assert cover.price_minor(600) == 720


def test_other_failures_of_a_new_machine_as_published():
    """Weibull 2.2 / 13.9: .00306, .01405, .10546 failures in 1, 2, 5 years; first failure .00305, .01395, .10009."""
    cover = Cover(0.0, 9000, life=WANG)
    for months, failures, first in (
        (12, 0.00306, 0.00305),
        (24, 0.01405, 0.01395),
        (60, 0.10546, 0.10009),
    ):
        assert cover.failures(months) == pytest.approx(failures, abs=5.1e-6)
        assert cover.comes_back(months) == pytest.approx(first, abs=5.1e-6)


def test_an_older_machine_costs_more():
    prices = [Cover(0.05, 9000, life=WANG, age_years=age).price_minor(12) for age in (0, 5, 10, 15)]
    assert prices == sorted(prices)
    assert prices[-1] > 2 * prices[0]


def test_cost_against_simulation():
    """200,000 guarantees played: exponential time of showing, failures of ageing as a Poisson process in the hazard."""
    cover = Cover(0.15, 6000, 3.0, WANG, 9.0, failure_minor=8000)
    rng, n = np.random.default_rng(8), 200_000
    shows = (rng.random(n) < 0.15) & (rng.exponential(3.0, n) < 12)
    hazard = (10.0**2.2 - 9.0**2.2) / 13.9**2.2
    failures = rng.poisson(hazard, n)
    cost = shows * 6000 + failures * 8000
    assert cover.cost_minor(12) == pytest.approx(cost.mean(), abs=5 * cost.std() / math.sqrt(n))
    assert cover.comes_back(12) == pytest.approx(np.mean(shows | (failures > 0)), abs=0.005)


def test_how_long_for_what_price():
    cover = Cover(0.05, 9000, life=WANG, age_years=8)
    months = cover.longest_months(1500)
    assert 0 < months < 60
    assert cover.price_minor(months) <= 1500 < cover.price_minor(months + 1)
    assert cover.longest_months(0) == 0
    assert cover.longest_months(10**9) == 60


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Cover(1.1, 9000),
        lambda: Cover(0.1, -1),
        lambda: Cover(0.1, 1, shows_months=0),
        lambda: Cover(0.1, 1).cost_minor(-1),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        wrong()
