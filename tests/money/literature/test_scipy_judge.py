"""Lives, years left and Kaplan-Meier against scipy's own distributions and its estimate of survival."""

import numpy as np
import pytest
from scipy import integrate, stats

from counterpoise.learning.shares import Share
from counterpoise.money.fit import Lives, fit_weibull, kaplan_meier
from counterpoise.money.life import Weibull, capital_recovery

LIVES = [(2.2, 13.9), (2.2, 15.16), (1.0, 8.0), (0.7, 12.0), (3.5, 55.7)]


@pytest.mark.parametrize(("shape", "scale"), LIVES)
@pytest.mark.parametrize("age", [0.0, 2.0, 9.0, 20.0])
def test_a_conditional_life(shape, scale, age):
    ours, judge = Weibull(shape, scale), stats.weibull_min(shape, scale=scale)
    for years in (0.5, 1.0, 5.0, 12.0):
        assert ours.survival(years, age) == pytest.approx(
            judge.sf(age + years) / judge.sf(age), rel=1e-10
        )
    for chance in (0.1, 0.5, 0.9):
        assert ours.quantile(chance, age) == pytest.approx(
            judge.isf((1 - chance) * judge.sf(age)) - age, rel=1e-8
        )
    left = integrate.quad(lambda t: judge.sf(age + t) / judge.sf(age), 0, np.inf, epsabs=1e-10)[0]
    assert ours.mean_residual(age) == pytest.approx(left, rel=1e-6)


@pytest.mark.parametrize("rate", [0.0, 3.0, 8.0])
def test_discounted_years_of_service(rate):
    judge = stats.weibull_min(2.2, scale=13.9)

    def service(t):
        return judge.sf(6 + t) / judge.sf(6) * (1 + rate / 100) ** -t

    assert Weibull(2.2, 13.9).service_years(6.0, rate) == pytest.approx(
        integrate.quad(service, 0, np.inf)[0], rel=1e-7
    )


@pytest.mark.parametrize("seed", range(3))
def test_kaplan_meier_and_fit_with_censoring(seed):
    rng = np.random.default_rng(seed)
    dies, ends = 13.9 * rng.weibull(2.2, 300), rng.uniform(2, 25, 300)
    years, failed = np.minimum(dies, ends), dies <= ends
    data = stats.CensoredData.right_censored(years, ~failed)
    judge, ours = stats.ecdf(data).sf, kaplan_meier(Lives.of(years, failed))
    assert ours.survival == pytest.approx(judge.evaluate(ours.years), abs=1e-12)
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    found = fit_weibull(Lives.of(years, failed)).life
    assert (found.shape, found.scale_years) == pytest.approx((shape, scale), rel=1e-3)


def test_a_learned_share():
    judge = stats.beta(1 + 437, 1 + 543)
    found = Share(1, 1).updated(437, 543)
    assert (found.mean, found.sd) == pytest.approx((judge.mean(), judge.std()), rel=1e-12)
    assert found.range(0.95) == pytest.approx(judge.interval(0.95), rel=1e-9)


@pytest.mark.parametrize(("rate", "years"), [(8, 10), (10, 5), (5, 12)])
def test_a_loan_paid_back_in_even_parts_is_paid_back(rate, years):
    owed = 1.0
    for _ in range(years):
        owed = owed * (1 + rate / 100) - capital_recovery(rate, years)
    assert owed == pytest.approx(0.0, abs=1e-12)
