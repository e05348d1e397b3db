"""Dampers, bounce, springs and counterweights: hand-worked."""

import math

import numpy as np
import pytest
from scipy import integrate

from counterpoise.bench.bounce import bounce, bounce_decay
from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton
from counterpoise.bench.suspension import SpringPair, WeightReading, counterweight, springs
from counterpoise.errors import ReadingError


def test_a_scale_in_kilograms_is_a_force():
    assert scale_newton(8.0) == pytest.approx(78.4532)


def test_in_and_out_take_the_dampers_own_weight_out():
    found = damper_set([DamperForces("left", (70.0,), (90.0,), sd_n=4.0)])
    assert found.weakest.value == pytest.approx(80)
    assert found.weakest.sd == pytest.approx(4 / math.sqrt(2))
    assert found.dampers[0].bias.value == pytest.approx(-20)


def test_one_bad_replaces_the_set():
    found = damper_set(
        [DamperForces("left", (82.0,), (78.0,)), DamperForces("right", (12.0,), (10.0,))]
    )
    assert found.replace_set
    assert "one bad, replace the set" in found.sentence
    assert [damper.word for damper in found.dampers] == ["sound", "dead"]
    assert found.spread.value == pytest.approx(69)
    assert not damper_set(
        [DamperForces("left", (82.0,)), DamperForces("right", (78.0,))]
    ).replace_set


@pytest.mark.parametrize("strokes", [[], [DamperForces("left")]])
def test_a_damper_needs_a_push(strokes):
    with pytest.raises(ReadingError):
        damper_set(strokes)


def _swings_until_rest(push_m, friction_n, stiffness, mass):
    """Integrate the dry-friction swing half by half; the end of each is found as a zero of the
    speed.
    """
    place, swings = push_m, 0
    while stiffness * abs(place) > friction_n:
        toward = -math.copysign(1.0, place)

        def still(t, y):
            return y[1]

        still.terminal = True
        still.direction = -toward
        half = math.pi * math.sqrt(mass / stiffness)
        run = integrate.solve_ivp(
            lambda _, y, way=toward: [y[1], (-stiffness * y[0] - way * friction_n) / mass],
            (0, 2 * half),
            [place, toward * 1e-9],
            events=still,
            rtol=1e-9,
            atol=1e-12,
            max_step=half / 20,
        )
        place, swings = float(run.y_events[0][-1][0]), swings + 1
    return swings


@pytest.mark.parametrize("friction_n", [30.0, 60.0, 110.0, 150.0])
def test_the_bounce_count_of_an_integrated_swing_brackets_its_friction(friction_n):
    swings = _swings_until_rest(0.04, friction_n, 17829.0, 60.0)
    found = bounce(40.0, swings // 2, push_sd_mm=0.0)
    full = 17829.0 * 0.04
    count = swings // 2
    assert full / (4 * count + 3) <= friction_n <= (full / (4 * count - 1) if count else full)
    assert found.friction.value == pytest.approx(
        full * (1 / (4 * count + 3) + 1 / (4 * count - 1)) / 2
    )


def test_decay_between_two_swings():
    # 40 to 20 mm in 2 bounces on 18 N/mm: 10 mm a bounce = 4 F / k, so F = 45 N.
    found = bounce_decay(40.0, 20.0, 2, stiffness_n_per_m=18000.0)
    assert found.friction.value == pytest.approx(45)
    assert found.loss_per_bounce.value == pytest.approx(10)
    assert found.friction.sd == pytest.approx(math.sqrt(2) * 1.0 * 18 / 4 / 2)
    with pytest.raises(ReadingError, match="smaller"):
        bounce_decay(20.0, 40.0, 2)


def test_a_pair_of_springs():
    found = springs(SpringPair((206.0, 208.0), (200.0,)))
    assert found.difference.value == pytest.approx(7)
    assert found.force_difference.value == pytest.approx(63)  # 9 N/mm
    assert found.replace_pair
    assert not springs(SpringPair((201.0,), (200.0,))).replace_pair
    assert springs(SpringPair((200.0,), (200.0,), hooks=("sound", "cracked"))).replace_pair
    assert springs(SpringPair((200.0,), (200.0,), free_mm=180.0, new_free_mm=172.0)).replace_pair
    tired = springs(SpringPair((200.0,), (200.0,), sag_mm=(12.0, 12.0)))
    assert tired.replace_pair
    assert "hangs 12" in tired.sentence
    with pytest.raises(ReadingError, match="one of: sound"):
        springs(SpringPair((200.0,), (200.0,), hooks=("sound", "blue")))


def test_a_lost_counterweight_raises_frequency_and_swing():
    # 15 of 60 kg lost: frequencies x 1.155, swing at full spin x 1.333.
    found = counterweight(WeightReading(0.0, 15.0))
    assert found.frequency_factor == pytest.approx(1.155, abs=5e-4)
    assert found.swing_factor == pytest.approx(1.333, abs=5e-4)
    assert found.replace
    assert any("quartz" in caution.text for caution in found.cautions)


def test_bolts_and_dust_speak_without_a_scale():
    loose = counterweight(WeightReading(loose_bolts=1))
    assert loose.missing is None
    assert loose.loose
    assert not loose.replace
    assert "tighten all" in loose.sentence
    assert counterweight(WeightReading(dust="heap")).replace
    assert counterweight(WeightReading()).sentence.endswith("Nothing to do.")


@pytest.mark.parametrize(
    "reading",
    [
        WeightReading(loose_bolts=3),
        WeightReading(dust="lots"),
        WeightReading(10.0),
        WeightReading(1.0, 20.0, tub_kg=15.0),
    ],
)
def test_weights_that_cannot_be(reading):
    with pytest.raises(ReadingError):
        counterweight(reading)


def test_counts_widen_with_an_unsure_push():
    sure, unsure = bounce(40.0, 4, push_sd_mm=0.5), bounce(40.0, 4, push_sd_mm=6.0)
    assert unsure.friction.high - unsure.friction.low > sure.friction.high - sure.friction.low
    assert np.isfinite(unsure.friction.sd)
