"""What readings of parts obey whatever the numbers: order, symmetry, scale."""

import math
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest

from counterpoise.bench.bearing import (
    SIZES,
    BearingSize,
    defect_frequencies,
    defect_orders,
)
from counterpoise.bench.bounce import bounce, bounce_decay
from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton
from counterpoise.bench.play import PlayReadings, Shaft, play
from counterpoise.bench.runout import Rim, runout, strike
from counterpoise.bench.safety import (
    Appliance,
    SafetyReadings,
    conductor_limit_ma,
    earth_limit_ohm,
    safety,
)
from counterpoise.bench.suspension import SpringPair, WeightReading, counterweight, springs
from counterpoise.bench.windings import PhaseReadings, at_20c, winding_temperature_c, windings
from counterpoise.errors import ReadingError

# dampers and bounces


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_the_order_of_the_dampers_does_not_matter(order):
    strokes = [DamperForces(f"d{k}", (force,)) for k, force in enumerate((75.0, 30.0, 60.0))]
    found = damper_set([strokes[k] for k in order])
    assert found.weakest.value == 30.0
    assert found.spread.value == 45.0
    assert found.mean.value == pytest.approx(55.0)
    assert {d.name: d.word for d in found.dampers} == {"d0": "sound", "d1": "worn", "d2": "sound"}


def test_less_friction_is_never_less_likely_worn():
    chances = [
        damper_set([DamperForces("x", (force,))]).dampers[0].chance_worn
        for force in (5.0, 20.0, 40.0, 48.0, 60.0, 90.0)
    ]
    assert all(later <= earlier for earlier, later in pairwise(chances))
    assert damper_set([DamperForces("x", (48.0,))]).dampers[0].chance_worn == pytest.approx(0.5)


def test_a_scale_in_kilograms_and_one_in_newton_agree():
    forces = tuple(scale_newton(kg) for kg in (7.5, 8.1))
    assert damper_set([DamperForces("x", forces)]).mean.value == pytest.approx(7.8 * 9.80665)


@pytest.mark.parametrize("push", [20.0, 40.0, 60.0])
def test_more_bounces_are_less_friction_and_a_harder_push_more(push):
    frictions = [bounce(push, n).friction.value for n in range(8)]
    assert all(later < earlier for earlier, later in pairwise(frictions))
    assert bounce(push + 10.0, 3).friction.value > bounce(push, 3).friction.value


def test_friction_of_a_swing_scales_with_the_stiffness_of_the_springs():
    soft, stiff = (bounce_decay(40.0, 20.0, 2, stiffness_n_per_m=k) for k in (9e3, 18e3))
    assert stiff.friction.value == pytest.approx(2 * soft.friction.value)
    assert stiff.loss_per_bounce.value == pytest.approx(soft.loss_per_bounce.value) == 10.0


# springs and weights


def test_left_and_right_are_alike():
    left, right = (springs(SpringPair(*pair)) for pair in (((206.0,), (200.0,)),
                                                           ((200.0,), (206.0,))))  # fmt: skip
    assert left.unlike == right.unlike
    assert left.difference.value == -right.difference.value
    assert left.replace_pair is right.replace_pair is True
    assert "The left spring" in left.sentence
    assert "The right spring" in right.sentence


@pytest.mark.parametrize("hooks", [("worn", "sound"), ("sound", "cracked"), ("off", "off")])
def test_a_bad_hook_replaces_both_springs_however_alike_they_are(hooks):
    assert springs(SpringPair((200.0,), (200.0,), hooks=hooks)).replace_pair
    assert not springs(SpringPair((200.0,), (200.0,))).replace_pair


def test_a_weight_heavier_than_stamped_misses_nothing_and_swings_as_it_should():
    heavy = counterweight(WeightReading(15.5, 15.0))
    assert heavy.missing.value == pytest.approx(-0.5)
    assert heavy.frequency_factor == heavy.swing_factor == 1.0
    assert not heavy.replace


@pytest.mark.parametrize("lost", [0.0, 1.0, 5.0, 14.0])
def test_frequency_goes_with_the_root_of_what_the_swing_goes_with(lost):
    found = counterweight(WeightReading(15.0 - lost, 15.0))
    assert found.swing_factor == pytest.approx(60.0 / (60.0 - lost))
    assert found.frequency_factor**2 == pytest.approx(found.swing_factor)


# bearings


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_every_ball_passes_either_ring(size):
    """Outer and inner ring together meet each ball once a turn of the shaft; kinematics."""
    orders = defect_orders(size)
    assert orders.outer + orders.inner == pytest.approx(size.balls)
    assert orders.cage * size.balls == pytest.approx(orders.outer)
    assert 0.0 < orders.cage < 0.5 < orders.outer < orders.inner


def test_a_bearing_pushed_along_the_axis_has_a_smaller_ratio():
    straight = SIZES["6205"]
    pushed = replace(straight, contact_deg=30.0)
    assert pushed.ratio == pytest.approx(straight.ratio * math.cos(math.radians(30.0)))
    assert defect_orders(pushed).outer > defect_orders(straight).outer


@pytest.mark.parametrize(
    "balls", [(2, 8.0, 33.0), (8, 0.0, 33.0), (8, 33.0, 33.0), (8, 40.0, 33.0)]
)
def test_a_bearing_that_cannot_be_built_is_refused(balls):
    with pytest.raises(ReadingError, match=r"no bearing has .* pitch circle"):
        BearingSize("x", *balls, source="as given")


def test_tones_scale_with_speed():
    slow, fast = (defect_frequencies(SIZES["6205"], rpm) for rpm in (400.0, 1200.0))
    for tone in ("outer", "inner", "ball", "cage"):
        assert getattr(fast, tone).value == pytest.approx(3 * getattr(slow, tone).value)
        assert getattr(fast, tone).sd == pytest.approx(3 * getattr(slow, tone).sd)


# runout and play


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_runout_scales_with_the_gaps(factor):
    gaps = (9.0, 8.5, 8.0, 7.0, 6.8, 7.5)
    plain, scaled = (runout(Rim(tuple(k * gap for gap in gaps), 0.3 * k)) for k in (1.0, factor))
    assert scaled.eccentricity.value == pytest.approx(factor * plain.eccentricity.value)
    assert scaled.narrow_deg == pytest.approx(plain.narrow_deg)


def test_a_wider_gap_all_round_moves_nothing_but_the_room():
    gaps = (5.0, 4.0, 3.0, 4.0)
    near, far = (runout(Rim(tuple(gap + more for gap in gaps)), way="walked") for more in (0, 3))
    assert far.eccentricity.value == pytest.approx(near.eccentricity.value)
    assert strike(far).room.value == pytest.approx(strike(near).room.value + 3.0)
    assert strike(far).chance < strike(near).chance


def test_play_and_runout_take_room():
    walked = runout(Rim((5.0, 4.0, 3.0, 4.0)), way="walked")
    turned = runout(Rim((5.5, 4.0, 2.5, 4.0)))
    bare = strike(walked).room.value
    assert strike(walked, play_mm=(1.0, 0.2)).room.value == pytest.approx(bare - 0.5)
    assert strike(walked, turned=turned).room.value == pytest.approx(
        bare - turned.eccentricity.value
    )


@pytest.mark.parametrize("overhang", [0.2, 0.35, 0.5])
def test_clearance_is_play_over_the_lever(overhang):
    shaft = Shaft(overhang_m=overhang)
    found = play(PlayReadings((1.6,)), shaft)
    assert found.clearance.value == pytest.approx(1.6 / (1 + 2 * overhang / 0.10))
    assert "in the bearings" in found.sentence


# windings and safety


@pytest.mark.parametrize("celsius", [-10.0, 20.0, 35.0, 90.0])
def test_warm_copper_read_cold_is_the_same_winding(celsius):
    ohm = 5.0 * (234.5 + celsius) / (234.5 + 20.0)
    assert at_20c(ohm, celsius) == pytest.approx(5.0)
    assert winding_temperature_c(5.0, 20.0, ohm) == pytest.approx(celsius)


@pytest.mark.parametrize("order", list(permutations((5.1, 5.2, 6.0))))
def test_the_order_of_the_windings_does_not_matter(order):
    found, sorted_ones = (windings(PhaseReadings(ohm)) for ohm in (order, (5.1, 5.2, 6.0)))
    assert found.unbalance.value == pytest.approx(sorted_ones.unbalance.value)
    assert found.odd_one.value == pytest.approx(1.5 * found.unbalance.value)


def test_limits_never_fall_with_cord_or_heater_and_never_pass_their_end():
    earth = [earth_limit_ohm(m) for m in np.linspace(0.0, 60.0, 200)]
    leak = [conductor_limit_ma(kw) for kw in np.linspace(0.0, 10.0, 200)]
    for limits, most in ((earth, 1.0), (leak, 10.0)):
        assert all(later >= earlier for earlier, later in pairwise(limits))
        assert max(limits) <= most


@pytest.mark.parametrize("broken", ["earth_ohm", "insulation_mohm", "conductor_ma", "touch_ma"])
def test_one_failure_fails_it_all_and_one_gap_shows_nothing(broken):
    good = SafetyReadings(0.1, 50.0, 0.8, 0.1)
    bad = {"earth_ohm": 5.0, "insulation_mohm": 0.1, "conductor_ma": 20.0, "touch_ma": 5.0}
    assert safety(good).verdict == "within the limits"
    assert safety(replace(good, **{broken: bad[broken]})).verdict == "fails"
    missing = safety(replace(good, **{broken: None}))
    assert missing.verdict == "not shown"
    assert "Not shown to be safe" in missing.sentence


def test_class_two_is_stricter_on_insulation_and_has_no_earth():
    double = safety(SafetyReadings(insulation_mohm=1.5, touch_ma=0.1), Appliance(2))
    assert [test.name for test in double.tests] == ["insulation", "touch current"]
    assert double.verdict == "fails"
