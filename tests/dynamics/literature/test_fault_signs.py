"""What each fault does, direction and size (section 4 of the project's references.

The figures of the two-degree model are its own).
"""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.dynamics import Run, build, hold, simulate, with_fault
from counterpoise.dynamics.motion.equilibrium import static_equilibrium
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import pack, tub_group


@pytest.fixture(scope="module")
def sound():
    return build("front_loader").with_unbalance(0.3, 0.5, laundry=False)


def steady(machine, rpm, rate=1000.0):
    return simulate(machine, Run(hold(rpm, 16.0)), rate)


def order(result, times, axis, rate=1000.0):
    """Amplitude at a multiple of the drum speed on the panel."""
    n = int(4 * rate)
    signal, t = result.panel_m_s2[-n:, axis], result.t_s[-n:]
    signal = signal - signal.mean()
    window = np.hanning(n)
    turns = times * result.drum_rpm[-1] / 60.0
    return float(abs(np.sum(signal * window * np.exp(-2j * np.pi * turns * t))) / window.sum() * 2)


def up_down_hz(machine):
    return next(m.frequency_hz for m in modes(machine) if m.words == "tub up and down")


def test_dead_dampers_show_in_the_pass_through_resonance_not_at_full_spin(sound):
    dead = with_fault(sound, "two_dampers_dead")
    at_resonance = [np.ptp(steady(m, 170.0).tub_m[-4000:, 2]) for m in (sound, dead)]
    at_full_spin = [order(steady(m, 1200.0), 1, 0) for m in (sound, dead)]
    assert at_resonance[1] > 3.0 * at_resonance[0]
    assert at_full_spin[1] < at_full_spin[0]


def test_healthy_friction_puts_a_third_harmonic_into_the_panel(sound):
    smooth = replace(
        sound, dampers=tuple(replace(d, friction_n=0.0, viscous_n_s_m=100.0) for d in sound.dampers)
    )
    third = [order(steady(m, 400.0), 3, 0) / order(steady(m, 400.0), 1, 0) for m in (sound, smooth)]
    assert third[0] > 0.1
    assert third[1] < 0.1 * third[0]


def test_fifteen_kilograms_of_counterweight_lost(sound):
    both = with_fault(
        with_fault(sound, "counterweight_lost", 1.0, 0), "counterweight_lost", 5 / 8, 0
    )
    assert tub_group(sound).mass_kg - tub_group(both).mass_kg == pytest.approx(15.0)
    assert up_down_hz(both) / up_down_hz(sound) == pytest.approx(1.155, rel=0.03)
    tub = [steady(m, 1000.0).tub_centre_m[-4000:, 2].std() for m in (sound, both)]
    assert tub[1] / tub[0] == pytest.approx(1.33, rel=0.10)


def test_a_lost_spring_takes_its_share_of_the_upright_stiffness_and_the_tub_hangs_to_one_side(
    sound,
):
    off = with_fault(sound, "spring_off")
    there = static_equilibrium(pack(off))
    assert there[8] < static_equilibrium(pack(sound))[8] - 0.015
    assert abs(there[10]) > 0.1


def test_ten_kilograms_more_load_lower_the_resonance(sound):
    assert up_down_hz(with_fault(sound, "overload")) / up_down_hz(sound) == pytest.approx(
        0.93, abs=0.02
    )


def test_a_cracked_drum_support_shakes_twice_a_turn_even_with_an_empty_drum():
    empty = build("front_loader")
    cracked = steady(with_fault(empty, "drum_support_cracked"), 500.0)
    assert order(cracked, 2, 0) > 50.0 * order(steady(empty, 500.0), 2, 0) + 1e-3


def twice_a_turn_up(machine, rpm):
    """Amplitude of the tub's upright motion at twice the drum's turning, in m."""
    spin = simulate(machine, Run(hold(rpm, 20.0)), 200.0)
    up = spin.tub_centre_m[-2000:, 2]
    window = np.hanning(2000)
    turned = (up - up.mean()) * window * np.exp(-2j * spin.drum_rad[-2000:])
    return 2.0 * abs(turned.sum()) / window.sum()


@pytest.mark.parametrize("spring_n_m", [9000.0, 5000.0])
def test_a_cracked_drum_support_has_a_secondary_critical_speed_at_half_the_resonance(spring_n_m):
    # an empty drum, nothing out of balance: its weight on the twofold stiffness is all that shakes;
    # dry friction of the dampers would hold the tub still at these speeds
    empty = build("front_loader", {"spring_n_m": spring_n_m})
    dampers = tuple(replace(d, friction_n=0.0, viscous_n_s_m=40.0) for d in empty.dampers)
    empty = replace(empty, dampers=dampers)
    cracked = with_fault(empty, "drum_support_cracked")
    speeds = 60.0 * up_down_hz(cracked) * np.arange(0.36, 0.66, 0.01)
    swing = np.array([twice_a_turn_up(cracked, rpm) for rpm in speeds])
    assert speeds[swing.argmax()] == pytest.approx(30.0 * up_down_hz(cracked), rel=0.03)
    assert swing.max() > 3.0 * max(swing[0], swing[-1])
    assert swing.max() > 100.0 * twice_a_turn_up(empty, speeds[swing.argmax()])


def test_a_short_foot_leaves_the_floor_and_the_machine_rocks_across_the_corner(sound):
    short = steady(with_fault(sound, "short_foot", 1.0, 1), 600.0)
    assert short.foot_n[-4000:, 1, 2].min() == 0.0
    assert order(short, 1, 1) > 5.0 * order(steady(sound, 600.0), 1, 1)


def test_a_soft_floor_moves_all_corners_in_phase(sound):
    soft = steady(with_fault(sound, "soft_floor"), 720.0)
    stiff = steady(sound, 720.0)
    assert order(soft, 1, 2) > 3.0 * order(stiff, 1, 2)


def test_transit_bolts_hand_the_whole_force_to_the_cabinet(sound):
    assert order(steady(with_fault(sound, "transit_bolts"), 300.0), 1, 0) > 5.0 * order(
        steady(sound, 300.0), 1, 0
    )


def test_a_loose_weight_and_a_worn_bearing_add_what_is_no_multiple_of_the_speed(sound):
    def rough(machine):
        found = steady(machine, 900.0)
        panel = found.panel_m_s2[-4000:, 2]
        t = found.t_s[-4000:]
        columns = [np.ones(4000)]
        for k in range(1, 13):
            columns += [
                np.cos(k * 0.5 * 2 * np.pi * 15.0 * t),
                np.sin(k * 0.5 * 2 * np.pi * 15.0 * t),
            ]
        basis = np.column_stack(columns)
        return (panel - basis @ np.linalg.lstsq(basis, panel, rcond=None)[0]).std()

    for fault in ("counterweight_loose", "bearing_worn"):
        assert rough(with_fault(sound, fault)) > 3.0 * rough(sound)


def test_an_empty_balance_ring_lets_the_tub_move_further():
    machine = build("top_loader").with_unbalance(0.3, 0.5, laundry=False)
    full, empty = (
        steady(m, 700.0).tub_m[-4000:, 0].std()
        for m in (machine, with_fault(machine, "ring_empty"))
    )
    assert empty / full == pytest.approx(1.0 + 7.634 / 35.3, rel=0.05)
