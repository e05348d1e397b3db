"""What cannot be asks back with the unit."""

import math

import pytest

from counterpoise.bench.bounce import bounce
from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton
from counterpoise.bench.play import PlayReadings, play
from counterpoise.bench.readings import GAP_MM, SLOPE_DEG, all_possible, possible
from counterpoise.bench.runout import Rim, runout
from counterpoise.bench.safety import SafetyReadings, safety
from counterpoise.bench.slopes import from_bubble, from_degrees
from counterpoise.bench.suspension import WeightReading, counterweight
from counterpoise.errors import ReadingError


@pytest.mark.parametrize(
    ("measure", "asks"),
    [
        (lambda: runout(Rim((40.0, 4.0, 4.1, 3.9))), "did you mean 4.0 mm?"),
        (lambda: play(PlayReadings((40.0,))), "did you mean 4.0 mm?"),
        (lambda: damper_set([DamperForces("left", (-60.0,))]), "did you mean 60.0 N?"),
        (lambda: from_degrees(15.0), "did you mean 1.5 degrees?"),
        (lambda: from_degrees(-15.0), "did you mean -1.5 degrees?"),
        (lambda: scale_newton(6500.0), "did you mean 6.5 kg?"),
        (lambda: bounce(400.0, 3), "did you mean 40.0 mm?"),
        (lambda: bounce(40.0, 3, stiffness_n_per_m=17.8), "did you mean 17800 N/m"),
        (lambda: from_bubble(30.0), "did you mean 3.0 divisions?"),
        (lambda: counterweight(WeightReading(12000.0, 15.0)), "did you mean 12.0 kg?"),
        (lambda: safety(SafetyReadings(touch_ma=350.0)), "did you mean 35.0 mA?"),
    ],
)
def test_a_slip_is_asked_about(measure, asks):
    with pytest.raises(ReadingError) as caught:
        measure()
    assert asks in str(caught.value)


def test_nonsense_gets_a_plain_request():
    with pytest.raises(ReadingError, match="not a number"):
        possible(math.nan, GAP_MM)
    with pytest.raises(ReadingError, match="give it in degrees"):
        possible(math.inf, SLOPE_DEG)
    with pytest.raises(ReadingError, match="at least one reading in mm"):
        all_possible([], GAP_MM)


@pytest.mark.parametrize(
    "measure",
    [
        lambda: from_degrees(0.5, -0.1),
        lambda: runout(Rim((4.0, 4.0, 4.0, 4.0), -0.3)),
        lambda: play(PlayReadings((1.0,), sd_mm=0.0)),
        lambda: safety(SafetyReadings(0.1, meter_percent=-5.0)),
    ],
)
def test_a_doubt_below_nothing_is_refused(measure):
    with pytest.raises(ReadingError, match="doubt"):
        measure()


def test_the_ends_themselves_are_possible():
    assert possible(0.0, GAP_MM) == 0.0
    assert possible(30.0, GAP_MM) == 30.0
