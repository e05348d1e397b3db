"""A baseline of the same machine is never worse than none, on rehearsed pairs kept aside."""

from pathlib import Path

import numpy as np
import pytest

from counterpoise.spin.causes.alarm_bound import PRIOR_OF, SOUND
from counterpoise.spin.causes.posterior import CLIMB, group_probabilities, stands_beside
from counterpoise.spin.training.fitting import TrainingSet
from counterpoise.spin.training.scores import figures, paired_bits
from counterpoise.spin.training.train import example_weights, group_target

# Written by ``python -m benchmarks.rehearsed.spins --machines 200100-200149 --pairs FILE``.
PAIRS = Path(__file__).parent / "baseline_pairs.npz"


@pytest.fixture(scope="module")
def pairs():
    """What is said without and with a baseline (n, groups), what is true, which are sound."""
    with np.load(PAIRS) as stored:
        names = [str(name) for name in stored["names"]]
        rows = [stored[part].astype(float) for part in ("recording", "baseline")]
        faults = [tuple(f for f in str(each).split("+") if f) for each in stored["faults"]]
        number = stored["number"]
    mine, base = ([dict(zip(names, row, strict=True)) for row in part] for part in rows)
    alone = np.array([group_probabilities(each) for each in mine])
    against = np.array([group_probabilities(*both) for both in zip(mine, base, strict=True)])
    target = np.array([group_target(each) for each in faults])
    table = TrainingSet((), np.empty((len(mine), 0)), target, number, example_weights(faults))
    beside = np.array([stands_beside(*both) for both in zip(mine, base, strict=True)])
    return alone, against, table, np.array([not each for each in faults]), beside


def test_with_a_baseline_more_is_told_and_fewer_sound_machines_are_accused(pairs):
    alone, against, table, sound, _ = pairs
    assert sound.sum() > 40
    without, with_one = (figures(p, table, sound) for p in (alone, against))
    for name in ("first", "first three", "bits"):
        # Of three hundred recordings one may be called otherwise.
        assert with_one[name] >= without[name] - 0.005, name
    assert with_one["alarms on sound"] <= without["alarms on sound"]
    gain, error = paired_bits(against, alone, table)
    assert gain + error > 0


def test_where_it_does_not_stand_beside_the_recording_nothing_moves(pairs):
    alone, against, _, _, beside = pairs
    assert 10 < (~beside).sum() < len(beside) / 2
    assert np.array_equal(alone[~beside], against[~beside])
    assert not np.allclose(alone[beside], against[beside])


def test_a_group_is_named_by_the_same_threshold_with_a_baseline():
    seen = {CLIMB: 0.1}
    assert stands_beside(seen, seen)
    assert stands_beside({CLIMB: np.nan}, seen)
    assert not stands_beside(seen, {CLIMB: np.nan})


def test_bits_gained_are_those_of_the_true_group_by_machine():
    target = np.eye(len(PRIOR_OF))[[SOUND, 0]]
    table = TrainingSet((), np.empty((2, 0)), target, np.array([4, 9]), np.ones(2))
    before = np.tile(PRIOR_OF, (2, 1))
    after = before.copy()
    after[0, SOUND] *= 2
    after[1, 0] *= 8
    gain, error = paired_bits(after, before, table)
    assert gain == pytest.approx(2.0)
    assert error == pytest.approx(np.sqrt(2) / 2)
