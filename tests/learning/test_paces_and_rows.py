"""Minutes and rows of checks, held against scipy, brute force and published updates."""

import numpy as np
import pytest
from scipy.stats import dirichlet

from counterpoise.errors import InputError
from counterpoise.learning.answers import OPEN, given_by, learned_row
from counterpoise.learning.drift import faded, judged_half_life
from counterpoise.learning.paces import Pace, pooled
from counterpoise.learning.scores import difference, reliability
from counterpoise.learning.shares import Share, mixed


def test_published_updates() -> None:
    # Gelman et al., Bayesian Data Analysis, 3rd ed., sect. 2.4: 437 girls of 980
    girls = Share(1, 1).updated(437, 543)
    assert girls.mean == pytest.approx(0.44603, abs=5e-6)
    assert girls.range(0.95) == pytest.approx((0.41507, 0.47720), abs=5e-6)
    # the same, sect. 3.4 (from memory): 727, 583 and 137 of 1447
    polled = mixed({"a": 1, "b": 1, "c": 1}, {"a": 727, "b": 583, "c": 137})
    assert list(polled.values()) == pytest.approx([0.50207, 0.40276, 0.09517], abs=5e-6)
    row = learned_row(np.full(3, 1 / 3), 3.0, np.array([727.0, 583.0, 137.0]))
    assert row == pytest.approx(dirichlet.mean([728, 584, 138]))


def test_pace_is_the_posterior_that_a_grid_gives() -> None:
    ratios = np.array([1.4, 1.1, 1.7, 1.3])
    pace = Pace.believed(1.0, 3.0).updated(ratios.sum(), 4)
    shape = 1 / pace.spread**2
    mean = np.linspace(0.5, 3.0, 20_000)
    rate = shape / mean
    # a Gamma law of the rate as start, then each ratio; a step in the mean is mean**-2 in the rate
    log = shape * 3 * np.log(rate) - 3 * rate - 2 * np.log(mean)
    log += sum(shape * np.log(rate) - rate * each for each in ratios)
    law = np.exp(log - log.max())
    law /= law.sum()
    assert pace.mean == pytest.approx(float(law @ mean), rel=1e-3)
    ends = mean[np.searchsorted(np.cumsum(law), [0.1, 0.9])]
    assert pace.range() == pytest.approx(tuple(ends), rel=2e-3)


def test_a_step_without_times_goes_by_the_hand() -> None:
    paces = pooled({"lid": (30.0, 20.0), "look": (0.0, 0.0)}, hand=10, step=5)
    assert paces["lid"].mean > paces["look"].mean > 1.0
    # twenty times one step count as five for the hand
    assert paces["look"].mean == pytest.approx((10 + 7.5) / 15)


@pytest.mark.parametrize("wrong", [0.0, -1.0, float("nan"), float("inf")])
def test_a_pace_of_nothing_is_refused(wrong: float) -> None:
    with pytest.raises(InputError, match="weight"):
        Pace(1.0, wrong)
    with pytest.raises(InputError):
        Pace(1.0, 1.0).updated(-1.0, 1)


def test_what_the_fault_gave_is_told_from_the_leak() -> None:
    row, leak = np.array([0.3, 0.5, 0.2]), np.array([0.9, 0.1, 0.0])
    usual = (1 - OPEN) * row + OPEN / 3
    # brute force over what both gave
    joint = np.zeros(3)
    for own in range(3):
        for other in range(3):
            joint[own] += usual[own] * leak[other] * (max(own, other) == 1)
    assert given_by(row, leak, np.array([0.0, 1.0, 0.0])) == pytest.approx(joint / joint.sum())
    # a mild answer is the fault's own, whatever the leak
    assert given_by(row, leak, np.array([1.0, 0.0, 0.0])) == pytest.approx([1, 0, 0])
    assert given_by(row, None, np.array([0.0, 0.0, 1.0])) == pytest.approx([0, 0, 1])
    assert given_by(row, leak, np.zeros(3)) == pytest.approx([0, 0, 0])


def test_what_is_written_as_impossible_can_be_learned() -> None:
    own = given_by(np.array([1.0, 0.0]), np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    assert own[1] == pytest.approx(1.0)
    assert learned_row(np.array([1.0, 0.0]), 4.0, own)[1] == pytest.approx(0.2)


def test_fading() -> None:
    assert faded(np.array([0.0, 730.0, -3.0]), 730.0) == pytest.approx([1.0, 0.5, 1.0])
    assert faded(np.array([0.0, 730.0]), None) == pytest.approx([1.0, 1.0])


def test_a_half_life_has_to_foretell_clearly_better() -> None:
    rng = np.random.default_rng(1)
    noise = rng.normal(0, 1, 50)
    assert judged_half_life(lambda h: noise * (1.0 if h is None else 0.99)) is None
    better = {None: 0.0, 1460.0: 0.1, 730.0: 0.5, 365.0: 0.2}
    assert judged_half_life(lambda h: noise / 100 + better[h]) == 730.0
    assert judged_half_life(lambda h: np.array([better[h]])) is None


def test_a_difference_says_when_it_cannot_tell() -> None:
    rng = np.random.default_rng(2)
    written = rng.normal(-2, 1, 60)
    assert difference(written[:10] + 1, written[:10]).verdict == "too few"
    assert difference(written + rng.normal(0, 0.3, 60), written).verdict == "no difference"
    assert difference(written + rng.normal(0.4, 0.3, 60), written).verdict == "better"
    assert difference(written - rng.normal(0.4, 0.3, 60), written).verdict == "worse"
    assert difference(np.array([]), np.array([])).verdict == "too few"


def test_reliability_counts_every_chance_once() -> None:
    said = np.array([0.01, 0.04, 0.1, 0.5, 0.9, 1.0])
    happened = np.array([0, 0, 1, 1, 1, 1])
    bins = reliability(said, happened)
    assert sum(each.count for each in bins) == 6
    assert bins[0].said == pytest.approx(0.025)
    assert bins[0].happened == 0.0
    assert bins[-1].happened == 1.0
