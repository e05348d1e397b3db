"""Published figures, each with its source and the tolerance that the source supports."""

import pytest

from counterpoise.bench.bearing import (
    SIZES,
    BearingSize,
    TurningReadings,
    defect_frequencies,
    defect_orders,
    turn_and_listen,
)
from counterpoise.bench.bounce import bounce_decay
from counterpoise.bench.lifting import Lift, TippedMachine, lifting, tipping, weight_limit_kg
from counterpoise.errors import ReadingError


@pytest.mark.parametrize(
    ("name", "outer", "inner", "cage", "tolerance"),
    [("6205", 3.5848, 5.4152, 0.3983, 1e-4), ("6203", 3.0531, 4.9469, 0.38164, 1e-4)],
)
def test_bearing_orders_of_the_case_western_bearing_data_centre(
    name, outer, inner, cage, tolerance
):
    found = defect_orders(SIZES[name])
    assert (found.outer, found.inner, found.cage) == pytest.approx(
        (outer, inner, cage), abs=tolerance
    )


def test_the_published_ball_order_is_twice_the_ball_spin():
    # Case Western Reserve University gives 4.7135 for the 6205.
    assert defect_orders(SIZES["6205"]).ball == pytest.approx(4.7135, abs=2e-4)
    assert defect_orders(SIZES["6205"]).ball / 2 == pytest.approx(2.3567, abs=1e-4)


def test_frequencies_scale_with_speed_and_carry_the_doubt_of_the_geometry():
    known, guessed = (defect_frequencies(SIZES[name], 1200) for name in ("6205", "6206"))
    assert known.outer.value == pytest.approx(3.5848 * 20, abs=2e-3)
    assert known.outer.sd / known.outer.value < guessed.outer.sd / guessed.outer.value
    assert "from memory" in guessed.sentence
    with pytest.raises(ReadingError):
        BearingSize("odd", 9, 40.0, 30.0, "none")


def test_dry_friction_decay_of_rao_chapter_2():
    # Rao, Mechanical Vibrations, ch. 2 (from memory): 5 cycles in 2 s, 10 cm to 1 cm: mu .11318 (g
    # 9.81).
    mass, omega = 10.0, 2 * 3.141592653589793 * 2.5
    # Ten times smaller, as the bench takes no push over 80 mm; friction scales with it.
    found = bounce_decay(10.0, 1.0, 5, stiffness_n_per_m=mass * omega**2)
    assert 10 * found.friction.value / (mass * 9.81) == pytest.approx(0.11318, abs=2e-5)


def test_lifting_equation_example_1_of_the_applications_manual():
    # Waters, Putz-Anderson, Garg 1994 (NIOSH 94-110), example 1, loading punch press stock (from
    # memory): H 23 in, V 15 in, D 48 in, fair grip: limit 16.3 lb, lifting index 2.7 for 44 lb. The
    # example works in pounds with multipliers rounded to two figures; the metric form (23 kg, 25
    # cm) lies 2 % below that form.
    limit = weight_limit_kg(Lift(reach_cm=23 * 2.54, height_cm=15 * 2.54, travel_cm=48 * 2.54))
    assert limit / 0.45359237 == pytest.approx(16.3, rel=0.04)
    assert 44 * 0.45359237 / limit == pytest.approx(2.7, rel=0.04)


def test_a_washing_machine_is_five_times_too_heavy_for_one():
    # Derived from the same equation: H 30, V 0, D 20 cm: 14.1 kg, index 5.1; a plain half share
    # 2.6.
    found = lifting(72.5)
    assert found.limit_kg == pytest.approx(14.1, abs=0.05)
    assert found.index.value == pytest.approx(5.1, abs=0.05)
    assert found.index.value / 2 == pytest.approx(2.6, abs=0.05)
    assert found.trolley
    assert found.people is None
    assert "trolley" in found.sentence


def test_the_best_lift_there_is_allows_the_load_constant():
    assert weight_limit_kg(
        Lift(reach_cm=25, height_cm=75, travel_cm=25, grip="good")
    ) == pytest.approx(23.0)


@pytest.mark.parametrize(("mass", "people"), [(10.0, 1), (16.0, 2), (20.0, 3), (25.0, 4)])
def test_people_for_lighter_things(mass, people):
    assert lifting(mass).people == people


@pytest.mark.parametrize(
    "lift", [Lift(per_minute=9), Lift(grip="oily"), Lift(reach_cm=70), Lift(twist_deg=170)]
)
def test_lifts_that_cannot_be(lift):
    with pytest.raises(ReadingError):
        lifting(50.0, lift)


def test_pace_and_hours_lower_the_limit():
    assert weight_limit_kg(Lift(per_minute=3, hours=6)) == pytest.approx(
        weight_limit_kg(Lift()) * 0.55
    )
    assert weight_limit_kg(Lift(per_minute=2, hours=2)) == pytest.approx(
        weight_limit_kg(Lift()) * 0.84
    )


def test_tipping_by_statics():
    found = tipping(
        TippedMachine(mass_kg=70.0, centre_from_edge_m=0.28, centre_height_m=0.40, hands_m=0.80)
    )
    assert found.push.value == pytest.approx(70 * 9.80665 * 0.28 / 0.80)
    assert found.balance_deg == pytest.approx(35.0, abs=0.01)  # atan(0.28 / 0.40)
    assert found.raise_kg.value == pytest.approx(35.0)
    assert found.trolley  # 35 kg, where four people at the equation's limit may lift 23
    assert "trolley" in found.sentence
    assert tipping(TippedMachine(mass_kg=25.0)).people == 2


def test_bearing_signs_add_up():
    assert turn_and_listen(TurningReadings()).grade == "sound"
    assert turn_and_listen(TurningReadings(feel="rough")).grade == "doubtful"
    assert turn_and_listen(TurningReadings(feel="rough", sound="rumble")).grade == "worn"
    assert turn_and_listen(TurningReadings(sound="grinding")).grade == "worn"
    dragging = turn_and_listen(TurningReadings(pull_n=(5.0, 5.2)))
    assert dragging.drag.value == pytest.approx(5.1 * 0.24)
    assert dragging.grade == "doubtful"
    with pytest.raises(ReadingError, match="sound cannot be"):
        turn_and_listen(TurningReadings(sound="jazz"))
