"""The model against an independent rigid-body simulator.

Natural motions 1 %, far above resonance 3 %, a run-up 10 % of its peak.
"""

from dataclasses import replace

import mujoco
import numpy as np
import pytest
from tests.dynamics.judges import mujoco_model

from counterpoise.dynamics import Run, build, hold, run_up, simulate
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import tub_group

FAMILIES = ["front_loader", "top_loader"]


def machine_of(family, unbalance_kg=0.2, viscous=90.0, friction=0.0):
    """Dampers on rigid bushings and no stiff rubber: what both can say in their own words. No
    balance ring.
    """
    machine = build(family).with_unbalance(unbalance_kg, 0.6, laundry=False)
    dampers = tuple(
        replace(d, viscous_n_s_m=viscous, friction_n=friction, bushing_n_m=0.0)
        for d in machine.dampers
    )
    return replace(machine, dampers=dampers, ring=replace(machine.ring, added_kg=0.0))


def natural_hz(machine):
    """Natural frequencies in MuJoCo, from accelerations by differences."""
    model, data = mujoco_model.load(machine, locked=True)
    mujoco_model.settle(model, data)
    home, n = data.qpos.copy(), model.nv

    def acceleration(dq, dv):
        data.qpos[:] = home
        mujoco.mj_integratePos(model, data.qpos, dq, 1.0)
        data.qvel[:] = dv
        mujoco.mj_forward(model, data)
        return data.qacc.copy()

    state, zero, small = np.zeros((2 * n, 2 * n)), np.zeros(n), 1e-6
    state[:n, n:] = np.eye(n)
    for i in range(n):
        d = np.zeros(n)
        d[i] = small
        state[n:, i] = (acceleration(d, zero) - acceleration(-d, zero)) / (2 * small)
        state[n:, n + i] = (acceleration(zero, d) - acceleration(zero, -d)) / (2 * small)
    values = np.linalg.eigvals(state)
    return np.sort(np.abs(values[values.imag > 1e-3])) / (2 * np.pi)


@pytest.mark.parametrize("family", FAMILIES)
def test_natural_frequencies(family):
    machine = machine_of(family, unbalance_kg=0.001)
    ours = np.sort([m.frequency_hz for m in modes(machine)])
    theirs = natural_hz(machine)
    assert ours.size == theirs.size == 12
    assert np.abs(ours / theirs - 1.0).max() < 0.01


def spun(machine, speeds, seconds, step_s=5e-4):
    """Tub centre less cabinet, sampled each 5 ms, with the drum driven to ``speeds(t)`` in
    rad/s.
    """
    model, data = mujoco_model.load(machine, step_s)
    mujoco_model.settle(model, data)
    tub, every, out = model.body("tub").id, round(0.005 / step_s), []
    cabinet = model.body("cabinet").id
    start = data.xpos[tub] - data.xpos[cabinet]
    data.qvel[model.jnt_dofadr[model.joint("spin").id]] = speeds(0.0)
    for k in range(round(seconds / step_s)):
        data.ctrl[0] = speeds(data.time)
        mujoco.mj_step(model, data)
        if (k + 1) % every == 0:
            out.append(data.xpos[tub] - data.xpos[cabinet] - start)
    return np.array(out)


def balanced_about_its_centre(machine):
    """The unbalance in the plane of the group's centre, so that the tub shifts and hardly nods."""
    group, unbalance = tub_group(machine), machine.load.unbalances[0]
    depth = abs((group.centre_m - np.array(machine.drum.hub_m)) @ np.array(machine.drum.axis))
    return replace(
        machine, load=replace(machine.load, unbalances=(replace(unbalance, depth_m=float(depth)),))
    )


@pytest.mark.parametrize("family", FAMILIES)
def test_far_above_resonance_the_other_simulator_moves_by_m_e_over_the_mass(family):
    machine = balanced_about_its_centre(machine_of(family))
    unbalance = machine.load.unbalances[0]
    turning, seconds = 900.0 * np.pi / 30, 12.0
    out = spun(machine, lambda _: turning, seconds)[-800:, 0]  # the last 4 s, 60 turns
    window = np.hanning(800)
    once = (
        2.0
        * abs(np.sum(out * window * np.exp(-1j * turning * 0.005 * np.arange(800))))
        / window.sum()
    )
    expected = unbalance.mass_kg * unbalance.radius_m / tub_group(machine).mass_kg
    ours = simulate(machine, Run(hold(900.0, seconds), watch_m=machine.tub.centre_m), 200.0).tub_m[
        -800:, 0
    ]
    own = (
        2.0
        * abs(np.sum(ours * window * np.exp(-1j * turning * 0.005 * np.arange(800))))
        / window.sum()
    )
    assert once == pytest.approx(expected, rel=0.03)
    assert own == pytest.approx(once, rel=0.03)


@pytest.mark.parametrize("family", FAMILIES)
def test_far_above_resonance_the_tub_moves_by_m_e_over_the_mass(family):
    machine = machine_of(family, viscous=20.0)
    machine = balanced_about_its_centre(machine)
    group, unbalance = tub_group(machine), machine.load.unbalances[0]
    expected = unbalance.mass_kg * unbalance.radius_m / tub_group(machine).mass_kg
    ours = simulate(
        machine, Run(hold(900.0, 30.0), watch_m=tuple(group.centre_m)), 1000.0, keep_state=True
    )
    tub = ours.state[-4000:, 6:9]
    assert np.sqrt(2.0) * tub.std(axis=0)[0] == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    ("family", "friction"), [("front_loader", 0.0), ("top_loader", 0.0), ("front_loader", 25.0)]
)
def test_run_up(family, friction):
    machine = machine_of(family, viscous=40.0, friction=friction)
    end, top = 10.0, 400.0
    ours = simulate(machine, Run(run_up(top, end), watch_m=machine.tub.centre_m), 200.0)
    theirs = spun(machine, lambda t: top * np.pi / 30 * t / end, end)
    peak = np.abs(theirs).max()
    assert np.abs(ours.tub_m).max() == pytest.approx(peak, rel=0.10)
    for axis in (0, 2):
        assert np.abs(ours.tub_m[:, axis]).max() == pytest.approx(
            np.abs(theirs[:, axis]).max(), abs=0.10 * peak
        )
