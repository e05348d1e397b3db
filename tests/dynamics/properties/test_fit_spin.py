"""A machine found again from what a phone on its top panel read in a spin."""

import numpy as np
import pytest

from counterpoise.dynamics import Phone, build
from counterpoise.dynamics.fitting.spin_levels import SpinLevels
from counterpoise.dynamics.fitting.spin_recording import (
    curves,
    fit_spin,
    machine_for,
    summit,
    widening,
)
from counterpoise.errors import InputError

RPM = np.exp(np.arange(np.log(170.0), np.log(1200.0), 0.08))
TRUE = {"spring_n_m": 8000.0, "damper_friction_n": 32.0, "foot_n_m": 400_000.0}
DRUM = {"log_unbalance": float(np.log(0.4)), "depth": 0.6, "load_kg": 3.0}


def read_off(values, noise=0.0):
    machine = machine_for("front_loader", SpinLevels(RPM, RPM, RPM), {}, {**values, **DRUM})
    rng = np.random.default_rng(5)
    flat, up = (
        c * np.exp(noise * rng.standard_normal(c.size)) for c in curves(machine, RPM, Phone())
    )
    return flat, up


def seen(values, noise=0.0, **known):
    flat, up = read_off(values, noise)
    rows = tuple((axis, summit(RPM, line, 250.0)) for axis, line in (("flat", flat),))
    return SpinLevels(RPM, flat, up, rows, **known)


def test_what_the_recording_tells_is_found_within_its_own_error():
    fitted = fit_spin(
        "front_loader", seen(TRUE, 0.05, load_kg=3.0, phone=(0.0, 0.0)), {"cabinet_kg": 20.0}
    )
    lines = {figure.name: figure for figure in fitted.figures}
    assert "cabinet_kg" not in lines
    assert lines["damper_friction_n"].determined
    for figure in lines.values():
        if figure.determined:
            assert abs(figure.value - TRUE.get(figure.name, figure.usual)) < 2.0 * figure.error
    assert fitted.off < 1.12 < fitted.off_usual
    assert fitted.resonances[0][2] == pytest.approx(fitted.resonances[0][1], rel=0.06)


def test_springs_swing_far_below_the_speeds_of_a_spin_so_it_does_not_tell_them():
    fitted = fit_spin(
        "front_loader", seen(TRUE, 0.1), {}, ["spring_n_m", "damper_friction_n", "cabinet_kg"]
    )
    lines = {figure.name: figure for figure in fitted.figures}
    assert not lines["spring_n_m"].determined
    assert lines["spring_n_m"].error > 3.0 * 0.08 * (11000.0 - 4500.0)


def test_less_friction_in_the_machine_is_less_friction_in_the_fit():
    worn, sound = (
        fit_spin(
            "front_loader",
            seen({"damper_friction_n": n}, load_kg=3.0, phone=(0.0, 0.0)),
            {},
            ["damper_friction_n"],
        )
        for n in (20.0, 80.0)
    )
    assert worn.figures[0].value < 35.0
    assert sound.figures[0].value > 55.0


def test_too_little_seen_is_refused_with_what_to_record():
    few = SpinLevels(RPM[:5], *(line[:5] for line in read_off({})))
    with pytest.raises(InputError, match=r"climbs from standstill to its top speed"):
        fit_spin("front_loader", few, {})


@pytest.mark.parametrize("name", ["dampers", "colour"])
def test_what_cannot_be_fitted_is_refused(name):
    with pytest.raises(InputError, match="damper_friction_n"):
        fit_spin("front_loader", seen({}), {}, [name])


def test_misfits_that_go_together_widen_the_error_and_white_ones_do_not():
    rng = np.random.default_rng(2)
    white = rng.standard_normal((2, 4000))
    assert widening(white) == pytest.approx(1.0, abs=0.1)
    slow = np.repeat(white[:, :400], 10, axis=1)
    assert widening(slow) > 10.0
    assert widening(3.0 * white) == pytest.approx(9.0, rel=0.1)


def test_the_fitted_machine_has_the_fitted_values():
    fitted = fit_spin(
        "front_loader",
        seen(TRUE, load_kg=3.0, unbalance_kg=0.4, phone=(0.0, 0.0)),
        {},
        ["foot_n_m"],
    )
    assert fitted.machine.feet[0].stiffness_n_m == pytest.approx(fitted.figures[0].value)
    assert fitted.machine.dampers[0].friction_n == build("front_loader").dampers[0].friction_n
    assert [figure.name for figure in fitted.drum] == ["depth"]
