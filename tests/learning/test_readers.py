"""A reader is set by what turned out: made-up readers whose truth is known."""

import numpy as np
import pytest
from benchmarks.learned.readers import learned, made_readings
from scipy.optimize import minimize

from counterpoise.learning.readers import (
    LEAST_FOR_POWER,
    POWER_SD,
    WEIGHT_SD,
    Readings,
    calibrate,
    fitted,
    recalibrated,
    scores,
)


def made(seed: int, machines: int, **how: object) -> Readings:
    return made_readings(np.random.default_rng(seed), machines, **how)  # type: ignore[arg-type]


def loss(theta: np.ndarray, readings: Readings) -> float:
    prior = ((theta[0] - 1) / POWER_SD) ** 2 + ((theta[1:] / WEIGHT_SD) ** 2).sum()
    return 0.5 * prior - float(readings.share @ scores(readings, theta))


@pytest.mark.parametrize("seen", [0.9, 0.0])
def test_the_optimum_is_that_of_scipy(seen: float) -> None:
    readings = made(3, 60, temperature=2.0, seen=seen, times=2)
    ours = fitted(readings, np.ones(10, dtype=bool))
    theirs = minimize(
        loss, np.append(1.0, np.zeros(9)), (readings,), bounds=[(0.1, None)] + 9 * [(None, None)]
    )
    assert loss(ours, readings) <= theirs.fun + 1e-7
    assert ours == pytest.approx(theirs.x, abs=2e-3)


def test_a_score_is_what_bayes_says_of_one_recording() -> None:
    readings = made(1, 1)
    theta = np.append(0.5, 0.1 * np.arange(9))
    words = np.exp(0.5 * readings.log_words[0] + theta[1:])
    # the label's likelihood under each outcome, then the outcomes by the recording and without
    label = readings.after[0] / readings.before[0]
    given = readings.before[0] * words / (readings.before[0] @ words)
    expected = np.log(given @ label) - np.log(readings.before[0] @ label)
    assert scores(readings, theta)[0] == pytest.approx(expected)


def test_a_reader_too_sure_gets_its_temperature_back() -> None:
    done = calibrate(made(5, 150, temperature=3.0, signal=1.2))
    assert done.by_power is not None
    assert done.by_power.mean > done.by_power.error > 0
    # within two of its own errors
    assert abs(done.power - 1 / 3) < 2 * done.power_sd
    assert not done.log_weights.any()


def test_readers_that_are_right_are_left_alone() -> None:
    changed = sum(each.used for m in (12, 30) for each in learned(60, m, 7))
    # 5 in 100 are granted; of 120 more than 12 come of that once in 200 times
    assert changed <= 12


def test_causes_named_too_often_are_weighed_down() -> None:
    done = calibrate(made(4, 120, named=np.array([1, 0.2, 5, 1, 1, 1, 1, 1, 1.0])))
    assert done.by_weights is not None
    assert done.by_weights.mean > 2 * done.by_weights.error
    assert np.argmin(done.log_weights) == 2
    assert np.argmax(done.log_weights) == 1
    assert done.log_weights.sum() == pytest.approx(0, abs=1e-9)


def test_too_few_machines_change_nothing_however_often_they_were_recorded() -> None:
    done = calibrate(made(2, LEAST_FOR_POWER - 1, temperature=4.0, times=6))
    assert (done.used, done.by_power, done.by_weights) == (False, None, None)
    assert (done.machines, done.power) == (LEAST_FOR_POWER - 1, 1.0)


def test_what_nobody_found_out_moves_nothing() -> None:
    readings = made(2, 40)
    blind = Readings(
        readings.log_words, readings.before, readings.before, readings.machine, readings.share
    )
    assert fitted(blind, np.ones(10, dtype=bool)) == pytest.approx(np.append(1.0, np.zeros(9)))
    assert not calibrate(blind).used


def test_words_are_tempered_and_weighed() -> None:
    words = np.array([[0.8, 0.2, 0.0]])
    counted = recalibrated(words, 0.5, np.array([1.0, 2.0, 1.0]))
    assert counted.sum() == pytest.approx(1.0)
    assert counted[0, 1] / counted[0, 0] == pytest.approx(2 * 0.5)
    # nothing is ever ruled out by a word
    assert counted[0, 2] > 0
