"""False alarms are bounded by design, and what is held back keeps its order and its sum."""

import numpy as np
import pytest

from counterpoise.spin.causes.alarm_bound import (
    ALARM_SHARE,
    PRIOR_OF,
    SOUND,
    alarm_thresholds,
    bounded,
    expected_bits,
    ratios_to_sound,
)


def said(count, seed, sharpness=1.0):
    """Probabilities (n, groups) of recordings that say something at random."""
    scores = np.random.default_rng(seed).normal(0, sharpness, (count, len(PRIOR_OF)))
    p = PRIOR_OF * np.exp(scores)
    return p / p.sum(axis=1, keepdims=True)


def raised(p):
    return np.any((p / PRIOR_OF > 2)[:, :SOUND], axis=1)


@pytest.mark.parametrize("sharpness", [0.3, 1.0, 2.5])
def test_new_sound_machines_are_accused_no_more_often_than_promised(sharpness):
    thresholds = alarm_thresholds(said(600, 1, sharpness))
    held = bounded(said(2000, 2, sharpness), thresholds)
    assert np.mean(raised(held)) < ALARM_SHARE + 0.03
    assert held.sum(axis=1) == pytest.approx(1)
    assert np.all(held > 0)


def test_what_is_over_its_threshold_is_left_as_it_was():
    thresholds = alarm_thresholds(said(600, 1))
    plain = PRIOR_OF.copy()
    plain[4] *= 60
    plain /= plain.sum()
    assert bounded(plain[None], thresholds)[0, 4] == pytest.approx(plain[4])
    assert ratios_to_sound(plain[None])[0, SOUND] == 1


def test_groups_held_back_keep_their_order_and_the_sound_one_gains():
    p = said(300, 3, 1.5)
    held = bounded(p, np.full(len(PRIOR_OF), 1e6))
    assert not raised(held).any()
    assert np.all(held[:, SOUND] >= p[:, SOUND] - 1e-12)


def test_bits_expected_are_none_for_the_prior_and_more_the_surer():
    assert expected_bits(PRIOR_OF[None]) == pytest.approx(0, abs=1e-9)
    assert expected_bits(said(50, 1, 2.0)) > expected_bits(said(50, 1, 0.5)) > 0
