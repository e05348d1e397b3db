"""Windings and the tests after a repair."""

import math

import pytest

from counterpoise.bench.safety import (
    Appliance,
    SafetyReadings,
    conductor_limit_ma,
    earth_limit_ohm,
    safety,
)
from counterpoise.bench.windings import PhaseReadings, at_20c, winding_temperature_c, windings
from counterpoise.errors import ReadingError

GOOD = SafetyReadings(earth_ohm=0.1, insulation_mohm=50.0, conductor_ma=0.8, touch_ma=0.1)


def test_copper_gains_039_per_cent_a_degree():
    assert at_20c(1.0, 21.0) == pytest.approx(1 / 1.00393, abs=2e-5)
    assert at_20c(10.0, 45.0) == pytest.approx(10 * 254.5 / 279.5)


def test_temperature_by_resistance_undoes_the_correction():
    hot = 10 * (234.5 + 80) / (234.5 + 20)
    assert winding_temperature_c(10.0, 20.0, hot) == pytest.approx(80)
    with pytest.raises(ReadingError):
        winding_temperature_c(0.0, 20.0, 10.0)


def test_one_winding_off_reads_as_its_deviation_from_the_mean():
    # 10, 10 and 11.5 ohm: mean 10.5, the odd one 9.52 % above it.
    found = windings(PhaseReadings((10.0, 10.0, 11.5), meter_percent=0.0, digit_ohm=1e-6))
    assert found.unbalance.value == pytest.approx(100 / 10.5, rel=1e-6)
    assert found.odd_one.value == pytest.approx(100 * 1.5 / 10.5, rel=1e-6)
    assert "a winding is off" in found.sentence


def test_leads_and_temperature_come_off():
    found = windings(
        PhaseReadings((5.6, 5.6, 5.6), temperature_c=45.0, leads_ohm=0.1, expected_ohm=5.0)
    )
    assert found.mean_20c.value == pytest.approx(5.5 * 254.5 / 279.5)
    assert found.off_expected.value == pytest.approx(100 * (5.5 * 254.5 / 279.5 / 5.0 - 1))
    assert found.mean_20c.sd >= found.mean_20c.value * 3 / 279.5


def test_an_open_winding_is_told():
    found = windings(PhaseReadings((5.0, math.inf, 5.1)))
    assert found.open_phases == (2,)
    assert "Winding 2 is open" in found.sentence
    assert windings(PhaseReadings((math.inf,) * 3)).open_phases == (1, 2, 3)


@pytest.mark.parametrize(
    "readings",
    [
        PhaseReadings(()),
        PhaseReadings((0.05,) * 3, leads_ohm=0.2),
        PhaseReadings((0.0,) * 3),
        PhaseReadings((-1.0, 5.0)),
    ],
)
def test_windings_that_cannot_be(readings):
    with pytest.raises(ReadingError):
        windings(readings)


def test_all_within_is_within_and_still_defers_to_local_code():
    found = safety(GOOD)
    assert found.verdict == "within the limits"
    assert "Local code and licensed practice decide" in found.sentence
    assert found.cautions


def test_what_is_missing_is_not_shown():
    found = safety(SafetyReadings(earth_ohm=0.1, insulation_mohm=50.0))
    assert found.verdict == "not shown"
    assert [test.verdict for test in found.tests] == [
        "within",
        "within",
        "not measured",
        "not measured",
    ]


@pytest.mark.parametrize(
    ("readings", "appliance"),
    [
        (SafetyReadings(0.4, 50.0, 0.8, 0.1), Appliance()),
        (SafetyReadings(0.1, 0.5, 0.8, 0.1), Appliance()),
        (SafetyReadings(0.1, 50.0, 4.0, 0.1), Appliance()),
        (SafetyReadings(0.1, 50.0, 0.8, 0.7), Appliance()),
        (SafetyReadings(insulation_mohm=1.5, touch_ma=0.1), Appliance(protection_class=2)),
    ],
)
def test_past_a_limit_it_fails(readings, appliance):
    found = safety(readings, appliance)
    assert found.verdict == "fails"
    assert "do not hand it over" in found.sentence


def test_near_a_limit_the_meter_cannot_tell():
    found = safety(SafetyReadings(0.29, 50.0, 0.8, 0.1))
    assert found.tests[0].verdict == "too near to tell"
    assert found.verdict == "not shown"


def test_limits_follow_heater_and_cord():
    assert (
        safety(SafetyReadings(0.1, 0.4, 0.8, 0.1), Appliance(heater_kw=4.0)).tests[1].verdict
        == "within"
    )
    assert [
        earth_limit_ohm(length) for length in (1.5, 5.0, 6.0, 12.5, 13.0, 90.0)
    ] == pytest.approx([0.3, 0.3, 0.4, 0.4, 0.5, 1.0])
    assert [conductor_limit_ma(power) for power in (2.0, 5.0, 30.0)] == [3.5, 5.0, 10.0]


def test_class_two_has_no_earth_to_measure():
    assert [test.name for test in safety(GOOD, Appliance(protection_class=2)).tests] == [
        "insulation",
        "touch current",
    ]
    with pytest.raises(ReadingError, match="no class 3"):
        Appliance(protection_class=3)
