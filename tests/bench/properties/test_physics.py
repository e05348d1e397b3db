"""What every measurement obeys whatever the numbers: order, symmetry, scale."""

import json
import math
from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest

from counterpoise.bench.bearing import (
    SIZES,
    BearingSize,
    TurningReadings,
    defect_frequencies,
    defect_orders,
    turn_and_listen,
)
from counterpoise.bench.bounce import bounce, bounce_decay
from counterpoise.bench.cautions import BLOCK_TUB, DRAIN, HEAVY, LICENSED, TIPPED, UNPLUGGED
from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton
from counterpoise.bench.evidence import ANSWERS, check_readings
from counterpoise.bench.feet import FEET, Feet, FootTurn, Tolerance, advise, rock_deg, spell_turns
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.lifting import (
    TEAM_SHARE,
    Lift,
    TippedMachine,
    lifting,
    tipping,
    weight_limit_kg,
)
from counterpoise.bench.play import PlayReadings, Shaft, play
from counterpoise.bench.quantity import Quantity, decimals
from counterpoise.bench.runout import Rim, runout, strike
from counterpoise.bench.safety import (
    Appliance,
    SafetyReadings,
    conductor_limit_ma,
    earth_limit_ohm,
    safety,
)
from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m, reversal
from counterpoise.bench.suspension import SpringPair, WeightReading, counterweight, springs
from counterpoise.bench.windings import PhaseReadings, at_20c, winding_temperature_c, windings
from counterpoise.errors import ReadingError

RESULTS = {
    "level": lambda: level(LevelReadings(from_degrees(0.8), left=from_degrees(-1.1))),
    "runout": lambda: runout(Rim((9.0, 8.5, 8.0, 7.0, 6.8, 7.5))),
    "strike": lambda: strike(runout(Rim((5.0, 4.0, 3.0, 4.0)), way="walked")),
    "play": lambda: play(PlayReadings((1.1, 1.3), (0.2,), (0.8,), (0.5, 1.2, 2.0))),
    "dampers": lambda: damper_set([DamperForces("left", (75.0,), (80.0,))]),
    "bounce": lambda: bounce(40.0, 3),
    "springs": lambda: springs(SpringPair((206.0,), (200.0,))),
    "counterweight": lambda: counterweight(WeightReading(12.0, 15.0, loose_bolts=1)),
    "bearing": lambda: turn_and_listen(TurningReadings("rough", pull_n=(4.0, 4.4))),
    "tones": lambda: defect_frequencies(SIZES["6205"], 1200.0),
    "windings": lambda: windings(PhaseReadings((5.1, 5.2, 6.0))),
    "safety": lambda: safety(SafetyReadings(0.1, 50.0, 0.8, 0.1)),
    "lifting": lifting,
    "tipping": tipping,
}


def result_of(kind):
    return RESULTS[kind](72.5) if kind == "lifting" else RESULTS[kind]()


@pytest.mark.parametrize("kind", RESULTS)
def test_every_result_has_a_sentence_cautions_and_survives_json(kind):
    found = result_of(kind)
    assert found.sentence.endswith((".", "!"))
    assert found.cautions
    assert all(caution.text and caution.source for caution in found.cautions)
    assert json.loads(json.dumps(found.to_dict()))["sentence"] == found.sentence


@pytest.mark.parametrize("kind", RESULTS)
def test_the_words_of_every_scale_share_all_chance_between_them(kind):
    for name, chances in result_of(kind).grades().items():
        assert sum(chances.values()) == pytest.approx(1.0), name
        assert all(0.0 <= chance <= 1.0 for chance in chances.values())


@pytest.mark.parametrize("kind", RESULTS)
def test_every_interval_holds_its_value(kind):
    for name, quantity in result_of(kind).measures.items():
        assert quantity.low <= quantity.value <= quantity.high, name
        assert quantity.unit


@pytest.mark.parametrize("kind", sorted(set(RESULTS) - {"level", "tipping"}))
def test_the_plug_comes_before_a_hand_goes_in(kind):
    assert result_of(kind).cautions[0] == UNPLUGGED


def test_what_is_heavy_or_flies_is_said_where_it_is_near():
    assert {HEAVY, TIPPED} <= set(result_of("level").cautions)
    assert {DRAIN, HEAVY, TIPPED} <= set(result_of("tipping").cautions)
    for kind in ("dampers", "springs"):
        assert BLOCK_TUB in result_of(kind).cautions
    assert LICENSED.text in result_of("safety").sentence


@pytest.mark.parametrize("kind", RESULTS)
def test_a_result_answers_only_checks_that_name_its_kind(kind):
    found = result_of(kind)
    for check, quantity in check_readings(found).items():
        kinds, name = ANSWERS[check]
        assert isinstance(found, kinds)
        assert quantity is getattr(found, name)


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


# lifting and tipping


@pytest.mark.parametrize(
    ("field", "steps"),
    [
        ("reach_cm", (25.0, 30.0, 45.0, 63.0)),
        ("twist_deg", (0.0, 30.0, 90.0, 135.0)),
        ("travel_cm", (25.0, 60.0, 150.0)),
        ("per_minute", (0.2, 1.0, 3.0, 6.0)),
        ("hours", (1.0, 2.0, 8.0)),
    ],
)
def test_a_harder_lift_has_a_lower_limit(field, steps):
    limits = [weight_limit_kg(replace(Lift(), **{field: step})) for step in steps]
    assert all(later < earlier for earlier, later in pairwise(limits))


def test_the_best_height_is_between_knee_and_hip_and_further_is_out_of_reach():
    heights = {h: weight_limit_kg(Lift(height_cm=h)) for h in (0.0, 40.0, 75.0, 120.0, 175.0)}
    assert max(heights, key=heights.get) == 75.0
    assert weight_limit_kg(Lift(reach_cm=64.0)) == 0.0
    assert weight_limit_kg(Lift(height_cm=176.0)) == 0.0


def test_a_larger_team_bears_more_but_each_of_it_less():
    teams = dict(lifting(72.5).team_index)
    assert all(later < earlier for earlier, later in pairwise(teams.values()) if later != earlier)
    assert all(share <= 1.0 for share in TEAM_SHARE.values())
    assert lifting(72.5).trolley
    assert lifting(10.0).people == 1


def test_a_doubtful_mass_never_asks_for_fewer_people():
    limit = lifting(20.0).limit_kg
    sure, unsure = lifting(limit - 0.1), lifting(limit - 0.1, sd_kg=3.0)
    assert sure.people == 1
    assert unsure.people > 1


def test_tipping_starts_easier_with_higher_hands_and_falls_sooner_the_higher_its_centre():
    low, high = (tipping(TippedMachine(hands_m=h)) for h in (0.5, 1.0))
    assert low.push.value == pytest.approx(2 * high.push.value)
    flat, tall = (tipping(TippedMachine(centre_height_m=h)) for h in (0.2, 0.6))
    assert tall.balance_deg < flat.balance_deg


# level and feet


@pytest.mark.parametrize("x", [-3.0, 0.4, 7.0])
def test_three_tools_read_the_same_slope(x):
    rise = 1000 * math.tan(math.radians(x))
    assert from_mm_per_m(rise).value == pytest.approx(x)
    assert from_degrees(x).value == x
    if abs(rise / 30.0) <= 4.0:
        assert from_bubble(rise / 30.0, 30.0).value == pytest.approx(x)
    turned = reversal(x + 0.3, -x + 0.3)
    assert turned.slope.value == pytest.approx(x)
    assert turned.own_error.value == pytest.approx(0.3)


@pytest.mark.parametrize(("x", "y"), [(1.3, 0.2), (-0.9, 1.1), (0.0, -2.0), (0.7, 0.0)])
def test_a_mirrored_machine_is_advised_in_the_mirror(x, y):
    feet = Feet(extension_mm=(8.0, 8.0, 8.0, 8.0))
    plain = level(LevelReadings(from_degrees(x), left=from_degrees(y)), feet)
    mirrored = level(LevelReadings(from_degrees(-x), left=from_degrees(y)), feet)
    assert len(mirrored.advice.turns) == len(plain.advice.turns)
    assert sum(abs(t.turns) for t in mirrored.advice.turns) == pytest.approx(
        sum(abs(t.turns) for t in plain.advice.turns)
    )
    assert mirrored.lean.value == pytest.approx(plain.lean.value)


@pytest.mark.parametrize("seed", range(6))
def test_no_foot_is_asked_beyond_its_stop_or_its_limit(seed):
    rng = np.random.default_rng(seed)
    out = tuple(float(mm) for mm in rng.uniform(0.0, 20.0, 4))
    feet = Feet(extension_mm=out)
    advice = advise(rng.uniform(-8.0, 8.0, 4), feet, Tolerance(), leave=False)
    after = dict(zip(FEET, out, strict=True))
    for turn in advice.turns:
        after[turn.foot] += turn.change_mm
    assert all(-1e-9 <= mm <= feet.limit_mm + 1e-9 for mm in after.values())


def test_a_machine_that_is_left_alone_has_no_turns():
    advice = advise(np.array([1.0, -2.0, 3.0, 0.0]), Feet(), Tolerance(), leave=True)
    assert advice.turns == ()
    assert advice.reachable is True


@pytest.mark.parametrize(
    ("turns", "words"),
    [(0.25, "1/4 turn"), (0.5, "1/2 turn"), (1.0, "1 turn"), (1.25, "1 1/4 turns"),
     (2.125, "2 1/8 turns"), (0.0, "0 turn")],
)  # fmt: skip
def test_turns_are_spelt(turns, words):
    assert spell_turns(turns) == words


def test_a_turn_says_which_way_and_what_it_does():
    up, down = FootTurn("rear left", 0.5, 0.6), FootTurn("rear left", -0.5, -0.6)
    assert up.text == "rear left foot: 1/2 turn out, clockwise seen from above: raises it (0.6 mm)"
    assert "anticlockwise seen from above: lowers it (0.6 mm)" in down.text


def test_a_wider_machine_rocks_less():
    angles = [rock_deg(1.0, Feet(width, 0.5)) for width in (0.4, 0.5, 0.6)]
    assert all(later < earlier for earlier, later in pairwise(angles))


# quantities


@pytest.mark.parametrize("factor", [2.0, -3.0, 0.001])
def test_another_unit_is_the_same_quantity(factor):
    there = Quantity.normal(5.0, 0.4, "mm").scaled(factor, "x")
    assert there.low < there.value < there.high
    back = there.scaled(1.0 / factor, "mm")
    assert back.value == pytest.approx(5.0)
    assert back.sd == pytest.approx(0.4)
    assert (back.low, back.high) == pytest.approx((5.0 - 1.6449 * 0.4, 5.0 + 1.6449 * 0.4), 1e-4)


@pytest.mark.parametrize(
    ("sd", "value", "places"), [(0.3, 5.0, 1), (0.03, 5.0, 2), (30.0, 500.0, 0), (1e-9, 0.0, 4)]
)
def test_a_value_has_one_digit_of_its_doubt(sd, value, places):
    assert decimals(sd, value) == places
