"""The pieces of the speed track, each against what must come out."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterpoise.spin.kind import WASHER_PACE
from counterpoise.spin.speed import best_path as tracking
from counterpoise.spin.speed.best_path import best_path
from counterpoise.spin.speed.comb import alias_hz, comb_score
from counterpoise.spin.speed.harmonics import (
    continuous_stretches,
    corrected_harmonics,
    without_strays,
)
from counterpoise.spin.speed.phase_refinement import aliases_onto, drum_angle
from counterpoise.spin.speed.speed_tracking import SpeedTrack
from counterpoise.spin.speed.steady_lines import constant_lines, without_lines

HOP_S = 0.25
frequencies = st.floats(0.0, 500.0)
rates = st.floats(5.0, 400.0)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(f=frequencies, rate=rates, turns=st.integers(-5, 5))
def test_an_alias_lies_below_half_the_rate_and_repeats_with_it(f, rate, turns):
    alias = alias_hz(np.array([f, f + turns * rate, -f]), rate)
    assert np.all((alias >= 0) & (alias <= rate / 2 + 1e-9))
    assert alias == pytest.approx(np.full(3, alias[0]), abs=1e-7)
    if f < rate / 2:
        assert alias[0] == pytest.approx(f, abs=1e-9)


def test_an_alias_is_where_the_samples_of_a_tone_really_lie():
    for f, rate in ((40.0, 60.0), (70.0, 60.0), (95.0, 100.0), (150.0, 60.0)):
        t = np.arange(6000) / rate
        spectrum = np.abs(np.fft.rfft(np.cos(2 * np.pi * f * t + 0.3)))
        seen_hz = np.fft.rfftfreq(6000, 1 / rate)[np.argmax(spectrum)]
        assert seen_hz == pytest.approx(alias_hz(np.array([f]), rate)[0], abs=0.02)


def test_orders_that_land_on_another_cannot_be_told():
    f = np.array([10.0, 20.0, 15.0, 30.0])
    # 60 samples a second: 2x of 20 Hz lands on 20 Hz, 2x of 30 Hz on standstill.
    assert aliases_onto(2.0, f, 60.0, 1.0).tolist() == [False, True, False, True]


def score_of(path, score, candidates):
    """Score of one path, reckoned straight from the costs; -1 is off."""
    total = tracking.OFF_SCORE if path[0] < 0 else score[0, path[0]]
    for i in range(1, len(path)):
        a, b = path[i - 1], path[i]
        switch = tracking.switch_cost(candidates[[a, b]])
        if a >= 0 and b >= 0:
            if abs(a - b) > WASHER_PACE.steps_down:
                return -np.inf
            total -= tracking.STEP_COST * abs(a - b)
        elif a >= 0:
            total -= switch[0]
        elif b >= 0:
            total -= switch[1]
        total += tracking.OFF_SCORE if b < 0 else score[i, b]
    return total


@pytest.mark.parametrize("seed", range(12))
def test_the_best_path_is_the_best_of_all(seed):
    """Against every path there is, on few frames and candidates."""
    rng = np.random.default_rng(seed)
    candidates = np.sort(rng.uniform(1, 4, 4))
    score = rng.uniform(-2, 12, (5, 4))
    score[rng.random(5) < 0.3] = -3.0
    best = max(score_of(path, score, candidates) for path in product(range(-1, 4), repeat=5))
    got = best_path(score, candidates)
    assert score_of(got, score, candidates) == pytest.approx(best)


def test_the_path_never_turns_faster_than_a_drum_can():
    score = np.full((40, 100), -1.0)
    score[:20, 10], score[20:, 90] = 30.0, 30.0
    path = best_path(score, np.arange(100) * 0.1 + 1)
    known = path >= 0
    both = known[1:] & known[:-1]
    assert np.abs(np.diff(path))[both].max() <= WASHER_PACE.steps_down


def test_a_comb_prefers_the_drum_to_its_double():
    """Second order stronger than the first: the double leaves the lower line unexplained."""
    contrasts = np.zeros((1, 400))
    contrasts[0, [100, 200]] = 2.0, 2.6
    scores = comb_score(contrasts, np.array([5.0, 10.0, 20.0]), 0.1, 400.0)[0]
    assert np.argmax(scores) == 1


def test_lines_that_stand_still_are_found_and_discounted():
    rng = np.random.default_rng(1)
    power = rng.exponential(1.0, (80, 300))
    power[:, 150] *= 300
    power[40:, 60] *= 300  # half of the time: no line of a pump
    contrasts = np.log10(power)
    lines = constant_lines(contrasts)
    assert np.flatnonzero(lines).tolist() == [150]
    left = without_lines(contrasts, power, lines)
    assert left[:, 150].mean() < 0.3 * contrasts[:, 150].mean()
    assert np.array_equal(left[:, 60], contrasts[:, 60])


def test_a_path_is_cut_at_gaps_and_jumps_but_not_where_a_drum_coasts():
    t = np.arange(60) * HOP_S
    climb = np.linspace(5, 12, 60)
    assert continuous_stretches(climb, t) == [(0, 60)]
    gap = climb.copy()
    gap[20:25] = np.nan
    assert continuous_stretches(gap, t) == [(0, 20), (25, 60)]
    coast = np.concatenate([np.full(30, 18.0), np.linspace(18, 4, 30)])
    assert continuous_stretches(coast, t) == [(0, 60)]
    jump = np.concatenate([np.full(30, 8.0), np.full(30, 16.0)])
    assert len(continuous_stretches(jump, t)) == 2


def test_a_stretch_on_the_second_order_is_put_back():
    t = np.arange(80) * HOP_S
    candidates = np.arange(0.9, 30.0, 0.1)
    drum = np.concatenate([np.linspace(1.5, 8.0, 40), np.full(40, 8.0)])
    score = np.zeros((80, len(candidates)))
    columns = np.round((drum - 0.9) / 0.1).astype(int)
    score[np.arange(80), columns] = 2.0
    # Only while the drum holds its speed is the second order the stronger one.
    score[np.arange(50, 80), np.round((2 * drum[50:] - 0.9) / 0.1).astype(int)] = 2.1
    path = drum.copy()
    path[50:] *= 2
    got = corrected_harmonics(path, t, score, candidates)
    assert got == pytest.approx(drum)
    # What is right already stays as it is.
    assert np.array_equal(corrected_harmonics(drum, t, score, candidates), drum)


def test_a_faint_stretch_that_joins_nothing_is_dropped_and_a_loud_one_kept():
    t = np.arange(90) * HOP_S
    f = np.full(90, np.nan)
    f[20:30], f[50:90] = 14.0, np.linspace(1.6, 18.0, 40)
    power = np.where(np.arange(90) > 50, 1.0, 1e-4)
    kept = without_strays(f, t, power)
    assert np.isnan(kept[20:30]).all()
    assert np.array_equal(kept[50:], f[50:])
    assert np.array_equal(without_strays(f, t, np.ones(90)), f, equal_nan=True)


def test_the_angle_of_a_drum_is_its_speed_added_up():
    t = np.arange(0, 20, 0.01)
    frames = np.arange(0, 20.1, HOP_S)
    steady = SpeedTrack(frames, np.full(len(frames), 5.0), np.empty(0))
    assert drum_angle(t, steady)[-1] == pytest.approx(2 * np.pi * 5 * t[-1])
    rising = SpeedTrack(frames, frames / 2, np.empty(0))
    assert drum_angle(t, rising)[-1] == pytest.approx(np.pi * t[-1] ** 2 / 2, rel=1e-6)
    # A gap is bridged by a straight line, and no drum at all gives no angle.
    gap = rising.f_hz.copy()
    gap[30:40] = np.nan
    assert drum_angle(t, SpeedTrack(frames, gap, np.empty(0))) == pytest.approx(
        drum_angle(t, rising)
    )
    none = SpeedTrack(frames, np.full(len(frames), np.nan), np.empty(0))
    assert not drum_angle(t, none).any()
