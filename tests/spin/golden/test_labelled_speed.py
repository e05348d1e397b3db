"""The labelled recordings: speed within 1 %, no harmonic taken for the drum."""

import numpy as np
import pytest
from tests.spin.shared import labelled, labels, truth

NAMES = [f"r{number:03d}" for number in range(1, 33)]


def test_all_labelled_recordings_are_there():
    assert sorted(labels()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_plateaus(name):
    reading, true = labelled(name), truth(name)
    spun_out = float(labels()[name]["reached_top_rpm"]) > 300
    assert any(p.rpm > 600 for p in reading.course.plateaus) == spun_out
    for each in reading.course.plateaus:
        here = (true[:, 0] >= each.start_s) & (true[:, 0] <= each.end_s)
        assert each.rpm == pytest.approx(np.median(true[here, 1]), rel=0.01)


@pytest.mark.parametrize("name", NAMES)
def test_no_harmonic_is_taken_for_the_drum(name):
    reading, true = labelled(name), truth(name)
    at, rpm = reading.track.t_s, 60 * reading.track.f_hz
    drum = np.interp(at, true[:, 0], true[:, 1])
    steady = (drum > 150) & (np.abs(np.gradient(drum, at)) < 2)
    assert np.all(
        np.abs(rpm - drum)[steady & np.isfinite(rpm)] < 0.03 * drum[steady & np.isfinite(rpm)]
    )


def test_speed_is_within_15_rpm_nearly_always():
    good = []
    for name in NAMES:
        reading, true = labelled(name), truth(name)
        drum = np.interp(reading.track.t_s, true[:, 0], true[:, 1])
        good += list((np.abs(60 * reading.track.f_hz - drum) < 15)[drum > 150])
    assert np.mean(good) > 0.94


@pytest.mark.parametrize("name", ["r004", "r010"])
def test_spins_given_up_are_counted(name):
    course = labelled(name).course
    assert course.attempts == int(labels()[name]["attempts"]) == 3
    assert course.top_rpm < 130
