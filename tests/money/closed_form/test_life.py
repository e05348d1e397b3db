import itertools
import math

import numpy as np
import pytest
from scipy import integrate, stats

from counterpoise.errors import InputError
from counterpoise.money.life import Weibull, capital_recovery, marginal_costs
from counterpoise.money.worth import Replacement, break_even_minor, repair_or_new

CASES = [(0.8, 10.0), (1.0, 12.0), (2.2, 13.9), (5.0, 20.0)]


@pytest.mark.parametrize(("shape", "scale"), CASES)
@pytest.mark.parametrize("age", [0.0, 3.0, 17.0, 40.0])
def test_against_scipy(shape, scale, age):
    life, judge = Weibull(shape, scale), stats.weibull_min(shape, scale=scale)
    for years in (0.0, 0.5, 4.0, 11.0):
        assert life.survival(years, age) == pytest.approx(
            judge.sf(age + years) / judge.sf(age), rel=1e-9
        )
    p = 0.3
    assert life.survival(life.quantile(p, age), age) == pytest.approx(1 - p, rel=1e-9)
    area = integrate.quad(lambda t: life.survival(t, age), 0, np.inf, epsabs=1e-12)[0]
    assert life.mean_residual(age) == pytest.approx(area, rel=1e-7)


@pytest.mark.parametrize(("shape", "scale"), CASES)
@pytest.mark.parametrize(("age", "rate"), [(0.0, 3.0), (8.0, 0.0), (25.0, 10.0)])
def test_discounted_service_against_quadrature(shape, scale, age, rate):
    life = Weibull(shape, scale)
    top = life.quantile(1 - 1e-15, age)
    judge = integrate.quad(
        lambda t: life.survival(t, age) * (1 + rate / 100) ** -t, 0, top, limit=200
    )[0]
    assert life.service_years(age, rate) == pytest.approx(judge, rel=1e-6)


def test_without_ageing_the_years_left_do_not_depend_on_age():
    life = Weibull(1.0, 7.0)
    force = math.log(1.05)
    for age in (0.0, 4.0, 30.0):
        assert life.service_years(age, 5.0) == pytest.approx(1 / (1 / 7 + force))
        assert life.mean_residual(age) == pytest.approx(7.0)


def test_mean_residual_far_out_stays_finite():
    life = Weibull(2.2, 13.9)
    assert life.mean_residual(80.0) == pytest.approx(life.service_years(80.0), rel=1e-9)
    assert 0 < life.mean_residual(400.0) < life.mean_residual(80.0)


def test_capital_recovery_pays_back():
    payment = capital_recovery(7.0, 9)
    debt = 1.0
    for _ in range(9):
        debt = debt * 1.07 - payment
    assert debt == pytest.approx(0.0, abs=1e-12)


def test_worth_of_a_new_machine_is_its_price_and_falls_with_age():
    new = Replacement(62_000)
    worth = [new.worth_minor(age) for age in range(0, 30, 3)]
    assert worth[0] == pytest.approx(62_000)
    assert all(later < earlier for earlier, later in itertools.pairwise(worth))
    assert new.worth_minor(9, renewed=1.0) == pytest.approx(62_000)
    assert break_even_minor(new, 9, works=0.5) == pytest.approx(new.worth_minor(9) / 2, abs=0.5)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Weibull(0.0, 1.0),
        lambda: Weibull(2.0, math.nan),
        lambda: Weibull(2.0, 9.0).survival(1.0, -1.0),
        lambda: Weibull(2.0, 9.0).quantile(1.0),
        lambda: capital_recovery(5, 0),
        lambda: marginal_costs((1.0,), (1.0,), 5),
        lambda: break_even_minor(Replacement(1), 1.0, works=1.5),
        lambda: Replacement(1).worth_minor(1.0, renewed=-0.1),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        wrong()


def test_costs_by_the_year_meet_where_the_repair_breaks_even():
    new = Replacement(62_000)
    limit = break_even_minor(new, 11, works=0.8)
    assert repair_or_new(new, 11, limit, works=0.8).yearly_repaired_minor == round(
        new.yearly_minor()
    )
    found = repair_or_new(new, 11, limit - 1000, works=0.8)
    assert found.pays
    assert found.years_low < found.years_left < found.years_high
    assert not repair_or_new(new, 11, limit + 1000, works=0.8).pays
    with pytest.raises(InputError):
        repair_or_new(new, 11, 100, works=0.0)
