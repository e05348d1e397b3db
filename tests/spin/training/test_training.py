"""What the training sees: profiles, phones, tables of examples, and how they are weighed."""

import numpy as np
import pytest

from counterpoise.errors import InputError
from counterpoise.spin.causes.groups import GROUPS
from counterpoise.spin.training import synthetic_recordings as synthetic
from counterpoise.spin.training.fitting import (
    LEVEL_ERROR,
    TrainingSet,
    centre_and_spread,
    reliability,
    with_level_errors,
)
from counterpoise.spin.training.programmes import (
    aborted_profile,
    distribution_end,
    random_abort_limits,
    random_profile,
)
from counterpoise.spin.training.rows import table_of
from counterpoise.spin.training.scores import accuracy, confusion
from counterpoise.spin.training.synthetic_recordings import (
    PANEL_RATE_HZ,
    phone_recording,
    random_phone,
    random_setup,
)
from counterpoise.spin.training.train import group_target, training_set


@pytest.mark.parametrize("seed", range(8))
def test_a_profile_climbs_to_full_speed_and_ends_at_rest(seed):
    rng = np.random.default_rng(seed)
    points = np.array(random_profile(rng, 1234.0).points)
    assert np.all(np.diff(points[:, 0]) > 0)
    assert points[0, 1] == points[-1, 1] == 0
    assert points[:, 1].max() == pytest.approx(1234.0, rel=0.004)
    climb = np.abs(np.diff(points[:, 1]) / np.diff(points[:, 0]))
    assert climb.max() < 151  # brakes included
    end_s, rpm = distribution_end(random_profile(rng, 1234.0))
    assert 80 < rpm < 110
    assert end_s > 15


@pytest.mark.parametrize("attempts", [2, 3, 4])
def test_an_aborted_spin_tries_as_often_as_it_was_asked(attempts):
    points = np.array(aborted_profile(attempts, np.random.default_rng(1)).points)
    fast = points[:, 1] > 80
    assert np.sum(np.diff(fast.astype(int)) == 1) == attempts
    assert points[:, 1].max() < 110


def test_limits_and_phones_stay_in_their_ranges():
    rng = np.random.default_rng(2)
    limits = [random_abort_limits(rng) for _ in range(200)]
    assert all(0.012 <= each.ripple <= 0.08 for each in limits)
    assert all(0.004 <= each.travel_m <= 0.02 for each in limits)
    assert {each.attempts for each in limits} == {2, 3, 4}
    phones = [random_phone(rng) for _ in range(50)]
    assert all(abs(each.x_m) <= 0.22 and abs(each.y_m) <= 0.22 for each in phones)


def test_a_machine_that_can_never_stand_is_refused(monkeypatch):
    def refuse(_):
        raise InputError("no such machine")

    monkeypatch.setattr(synthetic, "check", refuse)
    with pytest.raises(InputError, match="100 trials"):
        random_setup(np.random.default_rng(1))


@pytest.mark.parametrize("seed", range(6))
def test_a_phone_has_a_rate_a_range_and_a_rounding(seed):
    t = np.arange(0, 30, 1 / PANEL_RATE_HZ)
    panel = np.tile([0.0, 0.0, 9.80665], (len(t), 1))
    panel[:, 0] = 120 * np.sin(2 * np.pi * 3 * t)  # beyond any range
    heard = phone_recording(t, panel, np.random.default_rng(seed))
    nominal = min((60, 100, 200), key=lambda rate: abs(rate - heard.rate_hz))
    assert heard.rate_hz == pytest.approx(nominal, rel=0.03)
    most = np.abs(heard.acc_ms2).max()
    assert min(abs(most - g * 9.80665) for g in (4, 8)) < 0.2
    assert heard.clipped_fraction > 0.3
    # All readings lie on one grid, but for the rounding of doubles.
    step = np.diff(np.unique(np.round(heard.acc_ms2[:, 2], 9))).min()
    assert np.abs(heard.acc_ms2 / step - np.round(heard.acc_ms2 / step)).max() < 0.02


def examples():
    rng = np.random.default_rng(4)

    def run(*faults):
        return [
            (faults, {"full_up": float(rng.normal()), "rate": 2.0, "never": np.nan}) for _ in "ab"
        ]

    return [[run(), run("soft_floor"), run("heavy_load")], [run(), run("spring_off")]]


def test_a_table_of_examples_against_their_own_baseline():
    machines = examples()
    rows = table_of(dict(enumerate(machines)))
    alone = training_set(rows, with_baseline=False)
    assert alone.names == ("full_up", "rate")  # what was never seen is no feature
    assert alone.values.shape == (10, 2)
    assert alone.machine.tolist() == [0] * 6 + [1] * 4
    base = training_set(rows, with_baseline=True)
    assert base.names == ("full_up", "rate", "full_up'")  # no difference of rates
    assert len(base.values) == 6
    # The first machine compares like phones, the second the other one.
    first = machines[0][1][0][1]["full_up"] - machines[0][0][0][1]["full_up"]
    assert base.values[0, 2] == pytest.approx(first)
    crossed = machines[1][1][0][1]["full_up"] - machines[1][0][1][1]["full_up"]
    assert base.values[4, 2] == pytest.approx(crossed)
    assert base.weight.mean() == pytest.approx(1)


def test_errors_of_level_move_all_levels_of_an_example_together():
    names = ("flat_330", "full_up", "two_330", "flat_330'", "flat_330_law")
    many = TrainingSet(
        names, np.zeros((2000, 5)), np.zeros((2000, 9)), np.arange(2000), np.ones(2000)
    )
    moved = with_level_errors(many, np.random.default_rng(1))
    assert np.array_equal(moved[:, 0], moved[:, 1])
    assert not moved[:, 2:].any()  # ratios and differences stay
    assert moved[:, 0].std() == pytest.approx(LEVEL_ERROR, rel=0.05)


def test_the_spread_is_a_standard_deviation_and_never_nothing():
    values = np.random.default_rng(1).normal(3.0, 2.0, (20_000, 1))
    values[::7] = np.nan
    centre, spread = centre_and_spread(np.column_stack([values, np.full(20_000, 5.0)]))
    assert centre == pytest.approx([3.0, 5.0], abs=0.05)
    assert spread == pytest.approx([2.05, 0.02], rel=0.03)


def test_the_best_hit_and_the_first_three_are_shares_by_weight():
    p = np.zeros((2, 9))
    p[0, 0], p[1, :4] = 1.0, [0.4, 0.3, 0.2, 0.1]
    target = np.zeros((2, 9))
    target[0, 0], target[1, 2] = 1.0, 1.0
    table = TrainingSet((), np.empty((2, 0)), target, np.arange(2), np.array([1.0, 3.0]))
    assert accuracy(p, table) == (pytest.approx(0.25), pytest.approx(1.0))


def test_shares_in_a_confusion_sum_to_one():
    rng = np.random.default_rng(1)
    faults = [("soft_floor",), (), ("spring_off",)] * 10
    for count, shares in confusion(rng.random((30, 9)), faults).values():
        assert count == 10
        assert shares.sum() == pytest.approx(1)


def test_said_and_true_agree_for_honest_probabilities():
    rng = np.random.default_rng(1)
    p = rng.dirichlet(np.ones(9), 20_000)
    true = np.array([rng.multinomial(1, row) for row in p[:4000]])
    said, share, count = reliability(p[:4000], true.astype(float), np.ones(4000))
    assert count.sum() == 4000 * len(GROUPS)
    good = count > 200
    assert share[good] == pytest.approx(said[good], abs=0.05)


def test_a_target_sums_to_one_whatever_is_wrong():
    two = ("counterweight_lost", "spring_tired")
    for faults in ((), ("damper_dead",), two, ("soft_floor", "bearing_worn")):
        assert group_target(faults).sum() == pytest.approx(1)
