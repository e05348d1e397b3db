"""Features of signals made on purpose: what was put in comes out, and nothing else."""

import numpy as np
import pytest
from tests.spin.shared import USUAL, made, spin_signal

from counterpoise.spin.features.interharmonics import EVERY_PHONE_HZ, interharmonic_features
from counterpoise.spin.features.knocks import NO_KNOCKS, find_knocks
from counterpoise.spin.features.resonance import find_resonances
from counterpoise.spin.features.signature import RESONANCE_GRID_HZ, Levels, levels, response
from counterpoise.spin.features.tilt_features import orbit_features, tilt_features
from counterpoise.spin.reading import read_spin
from counterpoise.spin.recording import GRAVITY_MS2
from counterpoise.spin.speed.phases import Course
from counterpoise.spin.speed.uniform import UprightSignal


@pytest.fixture(scope="module")
def usual():
    t, acc, f = spin_signal(200.0, noise=0.01)
    return t, acc, f, read_spin(made(t, acc))


def angle_of(t, f):
    return 2 * np.pi * np.cumsum(f) * (t[1] - t[0])


def test_the_signature_is_finite_or_not_seen_and_named_once(usual):
    signature = usual[3].signature
    assert len(signature) > 120
    assert all(np.isfinite(v) or np.isnan(v) for v in signature.values())
    assert signature["top_krpm"] == pytest.approx(1.1, abs=0.01)
    assert signature["spun"] == 1.0


def test_levels_at_full_speed_are_those_put_in(usual):
    signature = usual[3].signature
    flat = np.hypot(2.0, 0.6 * 2.0)
    assert signature["full_flat"] == pytest.approx(np.log10(flat), abs=0.01)
    assert signature["full_up"] == pytest.approx(np.log10(0.4 * 2.0), abs=0.01)
    # Second and third order a quarter and a tenth of the first.
    assert signature["full_two"] == pytest.approx(np.log10(0.25), abs=0.02)
    assert signature["full_three"] == pytest.approx(np.log10(0.1), abs=0.02)


@pytest.mark.parametrize("factor", [0.3, 3.0])
def test_ratios_do_not_depend_on_the_unbalance(usual, factor):
    t, acc, _, reading = usual
    rest = np.array([0, 0, GRAVITY_MS2])
    scaled = read_spin(made(t, (acc - rest) * factor + rest)).signature
    for name in ("full_up_flat", "full_two", "two_330", "flat_450_law", "full_narrow"):
        assert scaled[name] == pytest.approx(reading.signature[name], abs=0.02), name
    assert scaled["full_flat"] == pytest.approx(
        reading.signature["full_flat"] + np.log10(factor), abs=0.01
    )


def test_a_tone_between_the_orders_is_heard_and_an_order_is_none(usual):
    t, acc, f, quiet = usual
    loud = acc.copy()
    loud[:, 2] += 0.5 * (f > 2) * np.cos(3.27 * angle_of(t, f))
    told = read_spin(made(t, loud))
    for name in ("tone_330", "tone_far_330", "tone_far_600", "tone_far_850"):
        assert told.signature[name] > quiet.signature[name] + 1.0
    # At 800 rpm it lies at 44 Hz, beyond what every phone sees: nothing is said of it there.
    assert EVERY_PHONE_HZ < 800 / 60 * 3.27
    assert np.isnan(told.signature["tone_600"])


def test_nothing_is_said_of_bands_that_were_never_held(usual):
    reading = usual[3]
    got = interharmonic_features(
        reading.spectrum, reading.orders, reading.course, reading.recording.rate_hz
    )
    assert np.isnan(got["on_2_85"])
    assert np.isfinite(got["on_2_330"])


@pytest.mark.parametrize("tilt", [0.02, 0.08])
def test_a_machine_that_tilts_in_the_spin_and_stays_so(usual, tilt):
    t, acc, _, _ = usual
    tilted = acc.copy()
    tilted[t > 60, 0] += tilt
    reading = read_spin(made(t, tilted))
    got = tilt_features(reading.signal, reading.orders, reading.course)
    assert got["lean_spin"] == pytest.approx(np.log10(tilt), abs=0.08)
    assert got["lean_after"] == pytest.approx(np.log10(tilt), abs=0.08)


def test_the_orbit_is_as_narrow_as_it_was_drawn(usual):
    reading = usual[3]
    got = orbit_features(reading.orders, reading.course)
    for name in ("narrow_330", "narrow_600", "narrow_peak"):
        assert got[name] == pytest.approx(np.log10(0.6), abs=0.02)
    assert abs(got["aside_600"]) < 0.02  # the axis does not turn with the speed
    assert np.isnan(got["narrow_85"])  # no distribution in this spin


def knocks_of(blows, rate_hz=200.0):
    """Half a minute of tumbling at 48 rpm with blows of 10 ms at these times, then a run-up."""
    t = np.arange(0, 40, 1 / rate_hz)
    acc = np.random.default_rng(1).normal(0, 0.01, (3, len(t)))
    acc[0] += 0.2 * np.sin(2 * np.pi * 0.8 * t)  # slow motion is no knock, however strong
    for blow in blows:
        acc[2] += 1.5 * np.exp(-(((t - blow) / 0.01) ** 2))
    frames = np.arange(0, 40, 0.25)
    course = Course(np.where(frames < 30, 1, 3), (), (), 1, 0, 0.0)
    signal = UprightSignal(rate_hz, acc, np.eye(3))
    return find_knocks(signal, frames, course, np.full(len(frames), 0.8))


@pytest.mark.parametrize("per_second", [0.5, 2.0])
def test_knocks_are_counted_where_they_were_put(per_second):
    blows = np.arange(3, 28, 1 / per_second)
    knocks = knocks_of(blows)
    assert len(knocks.t_s) == len(blows)
    assert np.array(knocks.t_s) == pytest.approx(blows, abs=0.03)
    assert knocks.per_second == pytest.approx(len(blows) / 29.4, rel=0.03)
    assert knocks.per_turn == pytest.approx(knocks.per_second / 0.8)
    assert knocks.crest > 10


def test_no_knocks_in_a_smooth_tumble_nor_after_the_run_up():
    assert knocks_of([]).t_s == ()
    assert knocks_of([33.0, 35.0]).t_s == ()
    # A phone of 15 samples a second sees no blow.
    assert knocks_of([10.0], rate_hz=15.0).t_s == ()


def test_nothing_is_said_where_no_slow_drum_was_recorded():
    course = Course(np.full(40, 4), (), (), 1, 0, 700.0)
    signal = UprightSignal(100.0, np.zeros((3, 1000)), np.eye(3))
    assert find_knocks(signal, np.arange(40) / 4, course, np.full(40, 11.0)) == NO_KNOCKS


def swept(answer):
    """Levels of a climb from 200 to 1300 rpm of a machine with this answer to a unit force."""
    rpm = np.linspace(200, 1300, 400)
    line = np.full((4, 400), np.nan)
    line[1] = answer(rpm) * (rpm / 1000) ** 2
    return Levels(rpm, line, line * 0.5, np.zeros(400), rpm > 1200)


@pytest.mark.parametrize(("at_rpm", "zeta"), [(500.0, 0.05), (800.0, 0.1)])
def test_a_resonance_lies_where_it_was_put_with_its_damping(at_rpm, zeta):
    def answer(rpm):
        r = rpm / at_rpm
        return 1 / np.sqrt((1 - r**2) ** 2 + (2 * zeta * r) ** 2)

    found = [each for each in find_resonances(swept(answer)) if each.axis == "flat"]
    assert [each.rpm for each in found] == [pytest.approx(at_rpm, rel=0.03)]
    # The half-power width of a steady answer is twice the damping ratio.
    assert found[0].damping == pytest.approx(zeta, rel=0.25)


def test_a_machine_without_a_resonance_shows_none():
    assert find_resonances(swept(np.ones_like)) == ()
    empty = Levels(np.empty(0), np.empty((4, 0)), np.empty((4, 0)), np.empty(0), np.empty(0, bool))
    assert find_resonances(empty) == ()


def test_the_response_is_flat_for_a_mass_alone():
    lev = swept(np.ones_like)
    got = response(lev, lev.flat)
    known = np.isfinite(got)
    assert got[known] == pytest.approx(np.full(known.sum(), got[known][0]), rel=1e-6)
    assert RESONANCE_GRID_HZ[known].max() < 1300 / 60 + 0.5


def test_only_a_driven_drum_counts_for_the_levels(usual):
    reading = usual[3]
    lev = levels(reading.orders, reading.course)
    assert lev.rpm.min() > 130
    assert lev.full.any()
    assert lev.rpm[lev.full].min() > 0.94 * USUAL[-4][1]
    assert lev.total.shape == lev.flat.shape == (4, len(lev.rpm))
