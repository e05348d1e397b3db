"""Calibration plays jobs as they would go; how often ranges hold is its command's to say."""

import numpy as np
import pytest

from counterpoise.workshop.studies.calibration import RangeOutcome, _factor, _figures, play_job


def test_figures_by_hand():
    ranged = [RangeOutcome("x", 0, 10, 5, outcome) for outcome in (-1, 0, 3, 10, 11)]
    found = _figures(ranged)
    assert (found["ranges"], found["held"], found["below"], found["above"]) == (5, 0.6, 0.2, 0.2)
    assert (found["value"], found["outcome"]) == (5, pytest.approx(4.6))


def test_prices_err_by_their_spread_and_not_on_average():
    drawn = [_factor(0.3, rng) for rng in [np.random.default_rng(3)] for _ in range(20_000)]
    assert np.mean(drawn) == pytest.approx(1.0, abs=5 * 0.3 / np.sqrt(20_000))
    assert np.std(drawn) == pytest.approx(0.3, rel=0.05)
    assert min(drawn) > 0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "options"),
    [(4, {"repair_resell", "part_out", "sell_as_is"}), (7, {"repair_hand_back"})],
)
def test_a_job_is_played_the_same_each_time(number, options):
    found = play_job("front_loader", 3, number)
    assert found == play_job("front_loader", 3, number)
    assert {one.option for one in found} == options
    for one in found:
        assert one.low < one.high
        assert abs(one.outcome) < 200_000
