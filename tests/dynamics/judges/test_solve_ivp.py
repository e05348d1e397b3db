"""The compiled time steps against a slow trusted integrator (same forces, its own steps)."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from counterpoise.dynamics import Run, build, simulate
from counterpoise.dynamics.motion.equilibrium import accelerations_at, static_equilibrium
from counterpoise.dynamics.motion.pack import pack
from counterpoise.dynamics.motion.run import SpinProfile


def smooth_machine(family):
    """Viscous dampers only, feet that hold: nothing that switches."""
    machine = build(family).with_unbalance(0.15, 0.7, laundry=False)
    dampers = tuple(
        replace(d, friction_n=0.0, viscous_n_s_m=100.0, bushing_n_m=0.0) for d in machine.dampers
    )
    return replace(machine, dampers=dampers)


def turning(theta, w):
    return w + 0.5 * np.cross(theta, w) + np.cross(theta, np.cross(theta, w)) / 12.0


def trusted(machine, top_rad_s, end_s, times):
    par = pack(machine)
    rise = top_rad_s / end_s

    def slope(t, y):
        q, v = y[:18], y[18:]
        drive = np.array([0.5 * rise * t * t, rise * t, rise, 1.0, 0.0, 0.0, 0.0])
        way = v.copy()
        way[3:6], way[9:12] = turning(q[3:6], v[3:6]), turning(q[9:12], v[9:12])
        return np.concatenate([way, accelerations_at(par, q, v, drive)])

    start = np.concatenate([static_equilibrium(par), np.zeros(18)])
    return solve_ivp(
        slope, (0.0, end_s), start, "DOP853", times, rtol=1e-8, atol=1e-11, max_step=0.01
    ).y.T


@pytest.mark.parametrize("family", ["front_loader", "top_loader"])
def test_a_climb_through_the_resonances(family):
    machine, end, top_rpm = smooth_machine(family), 4.0, 400.0
    ours = simulate(machine, Run(SpinProfile(((0.0, 0.0), (end, top_rpm)))), 100.0, keep_state=True)
    theirs = trusted(machine, top_rpm * np.pi / 30, end, np.arange(ours.t_s.size) / 100.0)
    tub, judge = ours.state[:, 6:9], theirs[:, 6:9]
    assert np.abs(tub - judge).max() < 0.002 * np.abs(judge - judge[0]).max()
    assert (
        np.abs(ours.state[:, 24:27] - theirs[:, 24:27]).max()
        < 0.002 * np.abs(theirs[:, 24:27]).max()
    )
