"""A machine found again from what was measured on it."""

import numpy as np
import pytest
from tests.dynamics.literature.test_measured_run import MEASURED

from counterpoise.dynamics import build
from counterpoise.dynamics.fitting.measured_run import MeasuredRun, fit, machine_for, misfits
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.response import respond
from counterpoise.errors import InputError

# What a fit of the steady response alone gave for the figures that are held here; the full
# integration has its own.
OTHERS = {
    "oscillating_kg": 48.2, "damper_viscous_n_s_m": 111.0, "damper_bushing_n_m": 150000.0,
    "damper_pin_n_m": 3200.0,
    "damper_pin_n_s_m": 14.0, "pitch_inertia_kg_m2": 1.588, "bellows_n_m": 740.0,
    "centre_y_m": 0.0025,
    "drum_radius_m": 0.30,
}  # fmt: skip
WATCHED, DEPTH_SHARE = (0.0, -0.232, 0.46), 0.493
SPEEDS = np.array([130.0, 150.0, 170.0, 200.0, 300.0, 600.0])


def measured_on(values):
    run = MeasuredRun(0.3)
    machine = machine_for("front_loader", run, values)
    levels = 1e3 * respond(machine, SPEEDS).tub_rms_m[:, 2]
    swing = next(m.rpm for m in modes(machine) if m.words == "tub up and down")
    return MeasuredRun(
        0.3,
        levels=tuple(zip(SPEEDS.tolist(), levels.tolist(), strict=True)),
        resonances=(("tub up and down", swing),),
    )


def test_spring_friction_and_mass_are_found_again():
    true = {"spring_n_m": 8300.0, "damper_friction_n": 41.0, "oscillating_kg": 52.0}
    found = fit("front_loader", measured_on(true), list(true))
    assert found.misfit < 0.05
    assert found.at_limit == ()
    for name, value in true.items():
        assert found.values[name] == pytest.approx(value, rel=0.02)


def test_the_measured_run_of_the_literature_is_met_better_than_by_the_defaults():
    run = MeasuredRun(0.5, DEPTH_SHARE, tuple(MEASURED.items()), watch_m=WATCHED, given=OTHERS)
    found = fit("front_loader", run, ["damper_friction_n", "spring_n_m"])
    start = np.sqrt(np.mean(misfits(machine_for("front_loader", run, {}), run) ** 2))
    assert found.misfit < 0.8 * start
    assert found.values["spring_n_m"] == pytest.approx(9000.0, rel=0.10)


@pytest.mark.parametrize(
    ("free", "says"),
    [
        (["colour"], "oscillating_kg"),
        ([], "free"),
        (["spring_n_m", "oscillating_kg"], "measure more"),
    ],
)
def test_a_fit_that_cannot_be_decided_is_refused(free, says):
    run = MeasuredRun(0.3, levels=((150.0, 2.0),))
    with pytest.raises(InputError, match=says):
        fit("front_loader", run, free)


def test_a_motion_that_the_machine_does_not_have_is_refused():
    with pytest.raises(InputError, match="tub up and down"):
        misfits(build("front_loader"), MeasuredRun(0.3, resonances=(("tub sings", 100.0),)))
