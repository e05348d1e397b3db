"""A machine without suspension in the time integration, against the block of the closed form.

Its feet stand at the height of the drum's axis, so that the turning force has no arm: nothing
rocks, all feet slip and lift together.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.dynamics.judges.textbook import verge_of_walking

from counterpoise.dynamics import Run, build, run_up
from counterpoise.dynamics.machines.machine import Bolts, Unbalance
from counterpoise.dynamics.motion.pack import pack, tub_group
from counterpoise.dynamics.motion.simulate import simulate_arrays


@pytest.fixture(scope="module")
def climb():
    machine = build("front_loader", {"drum_radius_m": 0.30})
    height = machine.drum.hub_m[2]
    depth = machine.drum.hub_m[1]  # in the plane of the tub's centre of gravity
    load = replace(machine.load, unbalances=(Unbalance(0.5, 0.3, depth, laundry=False),))
    machine = replace(
        machine,
        load=load,
        bolts=Bolts(
            tuple((x, 0.0, height + z) for x in (-0.2, 0.2) for z in (-0.2, 0.2)), 4e6, 2e3
        ),
    )
    machine = replace(
        machine,
        cabinet=replace(
            machine.cabinet, mass_kg=70.0 - tub_group(machine).mass_kg, centre_m=(0.0, 0.0, height)
        ),
    )
    feet = tuple(
        replace(
            f,
            place_m=(*f.place_m[:2], height),
            stiffness_n_m=2.5e6,
            damping_n_s_m=3e3,
            side_share=1.0,
        )
        for f in machine.feet
    )
    machine = replace(machine, feet=feet)
    return simulate_arrays(pack(machine), machine, Run(run_up(720.0, 40.0)), 2000.0)


def test_it_slips_where_the_formula_says(climb):
    moved = np.abs(climb.walked_m).max(axis=(1, 2)) > 1e-7
    assert climb.drum_rpm[moved.argmax()] == pytest.approx(
        verge_of_walking(70.0, 0.15, 0.6).slip_rpm, rel=0.02
    )


def test_it_lifts_where_the_formula_says(climb):
    off = climb.foot_n[:, :, 2].max(axis=1) <= 0.0
    assert climb.drum_rpm[off.argmax()] == pytest.approx(
        verge_of_walking(70.0, 0.15, 0.6).lift_rpm, rel=0.02
    )
