"""Readings that cannot be are refused with what, where and what to do; nothing crashes on them."""

import math

import pytest

from counterpoise.bench.bearing import SIZES, TurningReadings, defect_frequencies, turn_and_listen
from counterpoise.bench.bounce import bounce, bounce_decay
from counterpoise.bench.dampers import DamperForces, damper_set
from counterpoise.bench.feet import Feet, Tolerance
from counterpoise.bench.level import LevelReadings, level
from counterpoise.bench.lifting import Lift, TippedMachine, lifting, tipping, weight_limit_kg
from counterpoise.bench.play import PlayReadings, play
from counterpoise.bench.quantity import average, widening
from counterpoise.bench.readings import (
    CELSIUS,
    GAP_MM,
    LEAST_SD,
    SLOPE_DEG,
    Span,
    possible,
    possible_sd,
)
from counterpoise.bench.runout import Rim, runout
from counterpoise.bench.safety import SafetyReadings, safety
from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m, reversal
from counterpoise.bench.suspension import SpringPair, WeightReading, counterweight, springs
from counterpoise.bench.windings import PhaseReadings, windings
from counterpoise.errors import ReadingError

LEVEL = LevelReadings(from_degrees(0.3), left=from_degrees(0.2))
# what is asked, the field that is named, and a piece of the remedy
REFUSED = {
    "runout without doubt to speak of": (
        lambda: runout(Rim((9.0, 8.5, 8.0, 7.0, 6.8), 1e-320)), "sd_mm", "above 0",
    ),
    "runout of endless doubt": (
        lambda: runout(Rim((9.0, 8.5, 8.0, 7.0), math.inf)), "sd_mm", "above 0",
    ),
    "a whole weight of nothing": (
        lambda: counterweight(WeightReading(12.0, 0.0)), "nominal_kg", "kg",
    ),
    "a whole weight of nothing, not weighed": (
        lambda: counterweight(WeightReading(None, 0.0)), "nominal_kg", "kg",
    ),
    "pulls without doubt": (
        lambda: damper_set([DamperForces("left", (49.0,), sd_n=0.0)]), "sd_n", "e.g. 4 N",
    ),
    "pulls of a negative doubt": (
        lambda: damper_set([DamperForces("left", (49.0,), sd_n=-4.0)]), "sd_n", "above 0",
    ),
    "hands in the ankles": (lambda: lifting(72.5, Lift(reach_cm=0.0)), "reach_cm", "cm"),
    "hands a metre too near": (
        lambda: lifting(72.5, Lift(reach_cm=0.3)), "reach_cm", "did you mean 30.0 cm?",
    ),
    "a mass known to a ton": (lambda: lifting(72.5, sd_kg=1000.0), "sd_kg", "above 0"),
    "a bearing that stands": (lambda: defect_frequencies(SIZES["6205"], 0.0), "speed_rpm", "rpm"),
    "level to nothing": (lambda: Tolerance(0.0, 0.5), "within_deg", "0.05 to 10 degrees"),
    "firm to nothing": (lambda: Tolerance(0.5, 0.0), "within_mm", "0.05 to 10 mm"),
    "level to no number": (lambda: Tolerance(math.nan, 0.5), "within_deg", "0.05 to 10"),
    "endless stiffness": (
        lambda: bounce(40.0, 3, stiffness_n_per_m=math.inf), "stiffness_n_per_m", "all springs",
    ),
    "stiffness in N/mm": (
        lambda: bounce(40.0, 3, stiffness_n_per_m=18.0),
        "stiffness_n_per_m",
        "did you mean 18000 N/m",
    ),
    "endless cycles": (lambda: bounce_decay(40.0, 20.0, math.inf), "last_mm", "bounces between"),
    "colder than anything": (
        lambda: windings(PhaseReadings((5.0, 5.1), -300.0)), "temperature_c", "give it in",
    ),
    "a meter of negative error": (
        lambda: windings(PhaseReadings((5.0, 5.1), digit_ohm=-1.0)), "digit_ohm", "above 0",
    ),
    "a meter of no error to speak of": (
        lambda: safety(SafetyReadings(earth_ohm=0.1, meter_percent=-5.0)), "meter_percent", "5.0",
    ),
    "a vial of nothing": (lambda: from_bubble(1.0, 0.0), "vial_mm_per_m", "mm/m"),
    "a slope of negative doubt": (lambda: from_mm_per_m(3.0, -1.0), "sd", "above 0"),
    "two slopes of endless doubt": (lambda: reversal(1.0, -1.0, math.inf), "sd", "above 0"),
    "springs of negative doubt": (
        lambda: springs(SpringPair((200.0,), (201.0,), sd_mm=-1.0)), "sd_mm", "above 0",
    ),
    "play of endless doubt": (
        lambda: play(PlayReadings((1.0,), sd_mm=math.inf)), "sd_mm", "above 0",
    ),
    "a rim pulled with negative doubt": (
        lambda: turn_and_listen(TurningReadings(pull_n=(4.0,), sd_n=-1.0)), "sd_n", "above 0",
    ),
    "a machine tipped with endless doubt": (
        lambda: tipping(TippedMachine(sd_kg=math.inf)), "sd_kg", "above 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_a_reading_that_cannot_be_says_what_where_and_what_to_do(what):
    call, field, remedy = REFUSED[what]
    with pytest.raises(ReadingError) as refused:
        call()
    assert refused.value.field == field
    assert remedy in refused.value.remedy
    assert "inf" not in refused.value.remedy
    assert refused.value.message


def test_a_temperature_is_asked_about_only_where_a_point_was_lost():
    with pytest.raises(ReadingError, match=r"did you mean 35\.0 °C\?"):
        possible(350.0, CELSIUS)
    for slip in (-300.0, -25.0, math.inf, math.nan):
        with pytest.raises(ReadingError, match="read it again") as refused:
            possible(slip, CELSIUS)
        assert refused.value.meant is None


@pytest.mark.parametrize("value", [-10.0, 0.0, 9.999, 10.0])
def test_both_ends_of_a_span_are_possible(value):
    assert possible(value, SLOPE_DEG) == value


@pytest.mark.parametrize("span", [GAP_MM, SLOPE_DEG, Span("a thing", 2.0, 150.0, "kg")])
@pytest.mark.parametrize("value", [-1e6, -40.0, -11.0, 1e4, 1e9, 301.0, 1501.0])
def test_what_is_meant_is_itself_possible(value, span):
    with pytest.raises(ReadingError) as refused:
        possible(value, span)
    meant = refused.value.meant
    assert meant is None or possible(meant, span) == meant


@pytest.mark.parametrize("sd", [0.0, LEAST_SD, 0.3, 30.0])
def test_a_doubt_from_nothing_to_the_whole_span_is_taken(sd):
    assert possible_sd(sd, GAP_MM) == sd


@pytest.mark.parametrize("sd", [-1e-9, 1e-7, 5e-324, 30.1, math.inf, math.nan, -math.inf])
def test_any_other_doubt_is_refused(sd):
    with pytest.raises(ReadingError, match="mm for a gap"):
        possible_sd(sd, GAP_MM)


def test_a_doubt_whose_square_vanishes_is_refused_and_not_divided_by():
    with pytest.raises(ReadingError, match="next to nothing"):
        widening(1.0, 3, 1e-200)
    with pytest.raises(ReadingError, match="next to nothing"):
        average((1.0, 2.0, 3.0), 5e-324, "mm")


def test_a_near_reach_counts_as_the_nearest_of_the_equation_and_says_so():
    near, at = lifting(20.0, Lift(reach_cm=12.0)), lifting(20.0, Lift(reach_cm=25.0))
    assert near.limit_kg == at.limit_kg == weight_limit_kg(Lift(reach_cm=25.0))
    assert "A reach of 12 cm counts as 25 cm" in near.sentence
    assert "counts as" not in at.sentence


def test_a_machine_that_is_good_as_it_stands_survives_json():
    import json

    found = level(LEVEL, Feet(), Tolerance())
    assert found.advice.reachable is True
    assert json.loads(json.dumps(found.to_dict()))["advice"]["turns"] == []


@pytest.mark.parametrize("feet", [(0.4, 0.6), (0.5, 0.5), (0.6, 0.45)])
@pytest.mark.parametrize("x", [-2.0, -0.4, 0.0, 0.3, 1.7])
def test_every_level_measurement_survives_json(x, feet):
    import json

    stand = level(
        LevelReadings(from_degrees(x), left=from_degrees(-x / 2), floating="rear left", gap_mm=1.5),
        Feet(*feet),
    )
    data = json.loads(json.dumps(stand.to_dict()))
    assert data["advice"]["reachable"] in {True, False}
    assert sum(data["grades"]["lean"].values()) == pytest.approx(1.0)
