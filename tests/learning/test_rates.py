"""Shares from jobs that are not sure, held against brute force and the conjugate law."""

from itertools import product

import numpy as np
import pytest
from scipy.stats import beta

from counterpoise.learning.rates import Cases, learn_rates, odds

WRITTEN = np.array([0.3, 0.1])
STRENGTH = np.array([10.0, 10.0])
SETS = np.array(list(product([False, True], repeat=2)))


def prior_of(shares: np.ndarray) -> np.ndarray:
    """(4,) chances of the sets of two independent faults."""
    return np.prod(np.where(SETS, shares, 1.0 - shares), axis=1)


def cases_of(likelihood: np.ndarray) -> Cases:
    """Jobs by the chance (J, 4) of what was put down under each set."""
    jobs = len(likelihood)
    with np.errstate(divide="ignore"):
        weight = np.log(likelihood * prior_of(WRITTEN)).ravel()
    return Cases(
        present=np.tile(SETS, (jobs, 1)).astype(float),
        log_weight=weight,
        job=np.repeat(np.arange(jobs), 4),
        share=np.ones(jobs),
        written=np.tile(WRITTEN, (jobs, 1)),
    )


def certain(*sets: int) -> np.ndarray:
    return np.eye(4)[list(sets)]


def test_known_causes_are_the_conjugate_law() -> None:
    rates = learn_rates(cases_of(certain(0, 2, 2, 3, 1, 0, 0, 2)), WRITTEN, STRENGTH)
    # 4 of 8 had the first fault, 2 of 8 the second
    assert rates.mean == pytest.approx([(3 + 4) / 18, (1 + 2) / 18])
    assert rates.weight == pytest.approx([18, 18])
    low, high = rates.share(0).range(0.8)
    assert (low, high) == pytest.approx(tuple(beta.ppf([0.1, 0.9], 7, 11)))
    assert rates.settled


def test_a_machine_nobody_looked_into_moves_nothing_and_is_worth_nothing() -> None:
    looked = certain(2, 2, 0, 1)
    unseen = np.vstack([looked, np.ones((30, 4))])
    few, many = (learn_rates(cases_of(each), WRITTEN, STRENGTH) for each in (looked, unseen))
    assert many.mean == pytest.approx(few.mean, rel=2e-3)
    # thirty jobs without news must not make anybody surer
    assert many.weight == pytest.approx(few.weight, rel=0.02)


def test_em_finds_the_mode_that_a_grid_of_all_shares_finds() -> None:
    rng = np.random.default_rng(5)
    likelihood = rng.uniform(0.02, 1.0, (25, 4)) ** 3
    rates = learn_rates(cases_of(likelihood), WRITTEN, STRENGTH)

    def objective(shares: np.ndarray) -> float:
        # the mode on the scale of the log odds: the Beta law with its two counts as they stand
        prior = STRENGTH * (WRITTEN * np.log(shares) + (1 - WRITTEN) * np.log(1 - shares))
        return float(np.log(likelihood @ prior_of(shares)).sum() + prior.sum())

    grid = np.linspace(0.01, 0.9, 90)
    best = max(product(grid, grid), key=lambda pair: objective(np.array(pair)))
    assert rates.mean == pytest.approx(best, abs=0.01)
    # nothing near it does better
    for step in ([0.003, 0], [-0.003, 0], [0, 0.003], [0, -0.003]):
        assert objective(rates.mean + np.array(step)) <= objective(rates.mean) + 1e-6
    assert rates.moves[-1] < rates.moves[0]


def test_each_round_raises_what_em_climbs() -> None:
    rng = np.random.default_rng(6)
    likelihood = rng.uniform(0.02, 1.0, (12, 4)) ** 2
    cases = cases_of(likelihood)
    shares, climbed = WRITTEN.copy(), []
    for _ in range(8):
        prior = STRENGTH * (WRITTEN * np.log(shares) + (1 - WRITTEN) * np.log(1 - shares))
        climbed.append(float(np.log(likelihood @ prior_of(shares)).sum() + prior.sum()))
        # one round by exact enumeration
        joint = likelihood * prior_of(shares)
        counted = (joint / joint.sum(axis=1, keepdims=True)) @ SETS
        shares = (STRENGTH * WRITTEN + counted.sum(axis=0)) / (STRENGTH + len(likelihood))
    assert np.all(np.diff(climbed) >= -1e-12)
    assert learn_rates(cases, WRITTEN, STRENGTH).mean == pytest.approx(shares, rel=5e-3)


def test_the_spread_is_that_of_the_exact_posterior() -> None:
    rng = np.random.default_rng(7)
    # a look that errs one time in five, on forty machines: one fault, one grid, the exact posterior
    faulty = rng.random(40) < 0.5
    shown = np.where(rng.random(40) < 0.8, faulty, ~faulty)
    likelihood = np.where(shown[:, None] == SETS[:, 0], 0.8, 0.2)
    rates = learn_rates(cases_of(likelihood), WRITTEN, STRENGTH)
    grid = np.linspace(0.001, 0.999, 4000)
    by_shown = np.where(
        shown[:, None], 0.8 * grid + 0.2 * (1 - grid), 0.2 * grid + 0.8 * (1 - grid)
    )
    law = beta.pdf(grid, 3, 7) * np.prod(by_shown, axis=0)
    law /= law.sum()
    mean = float(law @ grid)
    spread = float(np.sqrt(law @ (grid - mean) ** 2))
    assert rates.share(0).mean == pytest.approx(mean, abs=0.02)
    assert rates.share(0).sd == pytest.approx(spread, rel=0.15)


def test_a_fault_is_learned_from_the_machines_that_could_have_it() -> None:
    cases = cases_of(certain(*[2] * 4, *[0] * 4))
    # half of the machines are of another kind: the four with the fault are all that could have it
    written = cases.written.copy()
    written[4:, 0] = 0.0
    fitting = Cases(cases.present, cases.log_weight, cases.job, cases.share, written)
    assert learn_rates(fitting, WRITTEN, STRENGTH).mean[0] == pytest.approx((3 + 4) / 14)


def test_old_jobs_count_by_their_share() -> None:
    cases = cases_of(certain(2, 0))
    half = Cases(cases.present, cases.log_weight, cases.job, np.array([0.5, 1.0]), cases.written)
    assert learn_rates(half, WRITTEN, STRENGTH).mean[0] == pytest.approx((3 + 0.5) / 11.5)


def test_odds_are_those_of_the_shares() -> None:
    assert odds(np.array([0.2, 0.5])) == pytest.approx([0.25, 1.0])
