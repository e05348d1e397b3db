"""What a friction damper does below and above break-away, against closed forms.

One upright damper under a tub that only shifts, in a cabinet that stands like a rock. Held fast, the
damper is its bushing; sliding, its first harmonic is 4 F / pi (den Hartog's approximation, from
memory), so at resonance the tub swings by (F0 - 4 F / pi) / (c omega), and far above it the floor
gets 4 F / pi more or less.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.dynamics.anchored import plain

from counterpoise.dynamics import build, hold
from counterpoise.dynamics.machines.machine import Unbalance
from counterpoise.dynamics.motion.run import Run
from counterpoise.dynamics.motion.simulate import simulate_arrays

MASS, STIFF, BUSHING, VISCOUS = 60.0, 17829.0, 6e4, 100.0
AT_REST = np.sqrt(STIFF / MASS) / (2 * np.pi) * 60.0  # rpm at which it swings when it slides


def swing(me_kg_m, friction_n, rpm, *, bushing=BUSHING, viscous=VISCOUS):
    """Amplitudes once a turn: the tub's upright way in m, the force on the floor in N."""
    source = build("front_loader")
    upright = replace(
        source.dampers[0],
        cabinet_m=(0.0, 0.0, 0.06), tub_m=(0.0, 0.0, 0.26), viscous_n_s_m=viscous,
        friction_n=friction_n, bushing_n_m=bushing, pin_n_m=0.0, pin_n_s_m=0.0,
    )  # fmt: skip
    heavy = Unbalance(me_kg_m / 0.3, 0.3, 0.165, laundry=False)
    machine, par = plain(MASS, heavy, source.springs, (upright,))
    spin = simulate_arrays(par, machine, Run(hold(rpm, 40.0)), 1000.0)
    last = slice(-round(20 * 60_000.0 / rpm), None)  # twenty whole turns
    turned = np.exp(-1j * spin.drum_rad[last])
    floor = spin.foot_n[last, :, 2].sum(axis=1)
    return tuple(
        2.0 * abs(np.mean((signal - signal.mean()) * turned))
        for signal in (spin.tub_m[last, 2], floor)
    )


@pytest.mark.parametrize("friction", [60.0, 120.0])
def test_held_fast_the_tub_swings_on_its_bushing_whatever_the_friction(friction):
    omega = 160.0 * 2 * np.pi / 60.0
    force = 0.02 * omega**2  # 5.6 N, a tenth of what would break it away
    stiff = STIFF + BUSHING - MASS * omega**2
    assert swing(0.02, friction, 160.0, viscous=0.0)[0] == pytest.approx(force / stiff, rel=0.07)


@pytest.mark.parametrize("friction", [5.0, 13.0, 20.0])
def test_sliding_at_resonance_it_swings_by_what_friction_leaves_of_the_force(friction):
    omega = AT_REST * 2 * np.pi / 60.0
    force = 0.15 * omega**2
    left = (force - 4 * friction / np.pi) / (VISCOUS * omega)
    assert swing(0.15, friction, AT_REST, bushing=0.0)[0] == pytest.approx(left, rel=0.04)


def test_less_grip_travels_further_at_resonance_once_it_slides():
    worn, whole = (swing(0.15, friction, AT_REST)[0] for friction in (7.0, 20.0))
    assert worn > 1.4 * whole


@pytest.mark.parametrize("friction", [20.0, 60.0])
def test_far_above_resonance_the_floor_gets_the_friction_and_less_of_it_is_less(friction):
    rpm = 900.0
    way, floor = swing(0.15, friction, rpm, bushing=0.0)
    omega = rpm * 2 * np.pi / 60.0
    assert way == pytest.approx(0.15 / MASS, rel=0.05)
    # friction and viscous force go with the speed, the springs with the way
    handed_on = np.hypot(STIFF * way, 4 * friction / np.pi + VISCOUS * omega * way)
    # the rock of 1e6 kg on four feet of 1e10 N/m gives a little at this speed
    assert floor * (1.0 - omega**2 / 4e4) == pytest.approx(handed_on, rel=0.03)


def test_a_worn_damper_hands_less_to_the_floor_at_full_speed():
    worn, whole = (swing(0.15, friction, 1200.0)[1] for friction in (21.0, 60.0))
    assert worn < 0.9 * whole


def test_below_break_away_more_grip_is_no_help_and_at_the_swing_of_the_held_tub_it_harms():
    """A tub that its dampers hold swings on their bushings instead, at a higher speed."""
    held = 60.0 / (2 * np.pi) * np.sqrt((STIFF + BUSHING) / MASS)
    weak, strong = (swing(0.05, friction, held, viscous=30.0)[0] for friction in (60.0, 400.0))
    assert strong > 1.3 * weak
