"""The tub that only shifts, on the springs and dampers of Sapre's public model of a 9-kg front
loader.

2023 (row D2; integrated for this
project: c = 120 N s/m, no friction, gravity on, rms in mm)."""

from dataclasses import replace

import pytest
from tests.dynamics.anchored import plain

from counterpoise.dynamics import build, hold
from counterpoise.dynamics.machines.machine import Unbalance
from counterpoise.dynamics.motion.run import Run
from counterpoise.dynamics.motion.simulate import simulate_arrays

ROWS = [
    (60, 5.834, 0.287),
    (100, 3.291, 1.014),
    (166, 2.103, 8.754),
    (307, 1.857, 2.446),
    (1000, 1.772, 1.812),
]


@pytest.fixture(scope="module")
def tub():
    source = build("front_loader")
    dampers = tuple(
        replace(d, viscous_n_s_m=120.0, friction_n=0.0, bushing_n_m=0.0, pin_n_m=0.0, pin_n_s_m=0.0)
        for d in source.dampers
    )
    return plain(60.0, Unbalance(0.5, 0.3, 0.165, laundry=False), source.springs, dampers)


@pytest.mark.parametrize(("rpm", "x_mm", "z_mm"), ROWS)
def test_steady_motion(tub, rpm, x_mm, z_mm):
    machine, par = tub
    settled = simulate_arrays(par, machine, Run(hold(rpm, 60.0)), 1000.0)
    turn = 60_000.0 / rpm
    last = slice(-round(turn * round(10_000 / turn)), None)  # whole turns
    rms = 1e3 * settled.tub_m[last].std(axis=0)
    assert rms[0] == pytest.approx(x_mm, rel=0.01)
    assert rms[2] == pytest.approx(z_mm, rel=0.01)
