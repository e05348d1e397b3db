"""Fits against lifelines, updates against Bayesian Data Analysis."""

import doctest

import lifelines
import numpy as np
import pytest
from lifelines.datasets import load_waltons

from counterpoise.errors import InputError
from counterpoise.learning import shares as learn
from counterpoise.learning.shares import Share, mixed
from counterpoise.money.fit import Lives, fit_weibull, kaplan_meier
from counterpoise.money.life import Weibull


def test_waltons():
    """Data shipped in lifelines: lambda 55.7331, rho 3.4505, Kaplan-Meier median 56."""
    data = load_waltons()
    lives = Lives.of(data["T"], data["E"] == 1)
    found = fit_weibull(lives)
    assert found.life.scale_years == pytest.approx(55.7331, abs=5.1e-5)
    assert found.life.shape == pytest.approx(3.4505, abs=5.1e-5)
    assert kaplan_meier(lives).median() == 56


def virtual(seed, n=400):
    """Machines that came in at some age (late entry), some still running at the end."""
    rng = np.random.default_rng(seed)
    entered = rng.uniform(0, 12, n) * (rng.random(n) < 0.6)
    lives = Weibull(2.2, 13.9)
    dies = np.array(
        [age + lives.quantile(p, age) for age, p in zip(entered, rng.random(n), strict=True)]
    )
    ends = entered + rng.uniform(1, 14, n)
    return np.minimum(dies, ends), dies <= ends, entered


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("late", [False, True])
def test_against_lifelines_with_censoring_and_late_entry(seed, late):
    years, failed, entered = virtual(seed)
    seen_from = entered if late else None
    judge = lifelines.WeibullFitter().fit(years, failed, entry=seen_from)
    found = fit_weibull(Lives.of(years, failed, seen_from))
    assert found.life.scale_years == pytest.approx(judge.lambda_, rel=1e-5)
    assert found.life.shape == pytest.approx(judge.rho_, rel=1e-5)
    errors = judge.summary["se(coef)"]
    assert found.scale_se == pytest.approx(errors["lambda_"], rel=1e-3)
    assert found.shape_se == pytest.approx(errors["rho_"], rel=1e-3)


@pytest.mark.parametrize("seed", range(3))
def test_kaplan_meier_against_lifelines(seed):
    years, failed, _ = virtual(seed)
    years = np.ceil(years * 4) / 4  # ties
    judge = lifelines.KaplanMeierFitter().fit(years, failed)
    found = kaplan_meier(Lives.of(years, failed))
    theirs = judge.survival_function_at_times(found.years).to_numpy()
    assert found.survival == pytest.approx(theirs, abs=1e-12)
    assert found.median() == judge.median_survival_time_


def test_greenwood_by_hand():
    """1 of 4 fails at year 1, one leaves at 2, 1 of 2 fails at 3."""
    found = kaplan_meier(Lives.of([1, 2, 3, 4], [True, False, True, False]))
    assert found.survival == pytest.approx([0.75, 0.375])
    assert found.se == pytest.approx([0.75 * np.sqrt(1 / 12), 0.375 * np.sqrt(1 / 12 + 1 / 2)])


def test_late_entry_matters():
    """Machines seen only from an age on look longer-lived than they are where that is forgotten."""
    years, failed, entered = virtual(1, 2000)
    right, wrong = (
        fit_weibull(Lives.of(years, failed, entered)),
        fit_weibull(Lives.of(years, failed)),
    )
    assert abs(right.life.scale_years - 13.9) < 3 * right.scale_se
    assert wrong.life.mean() > right.life.mean() + 3 * wrong.scale_se


def test_standard_errors_cover():
    """The 95 % ranges hold the true shape in 95 % of 300 virtual workshops, give or take 4 %."""
    inside = 0
    for seed in range(300):
        found = fit_weibull(Lives.of(*virtual(1000 + seed, 80)))
        inside += abs(found.life.shape - 2.2) < 1.96 * found.shape_se
    assert 0.91 <= inside / 300 <= 0.99


def test_beta_of_bda():
    """Gelman et al., BDA3, section 2.4: uniform prior and 437 of 980."""
    found = Share(1, 1).updated(437, 543)
    assert found.mean == pytest.approx(0.44603, abs=5.1e-6)
    assert found.range(0.95) == pytest.approx((0.41507, 0.47720), abs=5.1e-6)


def test_dirichlet_of_bda():
    """BDA3, section 3.4: uniform prior and 727, 583, 137."""
    found = mixed({"a": 1, "b": 1, "c": 1}, {"a": 727, "b": 583, "c": 137})
    assert list(found.values()) == pytest.approx([0.50207, 0.40276, 0.09517], abs=5.1e-6)


def test_a_believed_share_moves_with_what_is_seen():
    start = Share.believed(0.05, 20)
    assert start.mean == pytest.approx(0.05)
    after = start.updated(6, 14)
    assert after.mean == pytest.approx((1 + 6) / 40)
    assert after.sd < 0.1


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: fit_weibull(Lives.of([1.0, 2.0])),
        lambda: fit_weibull(Lives.of([2.0, 2.0, 2.0])),
        lambda: fit_weibull(Lives.of([2.0, 3.0, 4.0], [True, True, False])),
        lambda: Lives.of([1.0, -2.0, 3.0]),
        lambda: Lives.of([1.0, 2.0], [True]),
        lambda: Lives.of([1.0, 2.0], entered=[0.0, 2.0]),
        lambda: Share(0, 1),
        lambda: Share(1, 1).updated(-1, 0),
        lambda: mixed({}, {}),
        lambda: mixed({"a": 1}, {"b": 1}),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        wrong()


def test_examples_in_the_docstrings():
    found = doctest.testmod(learn)
    assert (found.failed, found.attempted) == (0, 1)
