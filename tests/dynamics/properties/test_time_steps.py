"""Steps, determinism and the uncompiled code."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from counterpoise.dynamics import (
    FAULTS,
    Run,
    build,
    draw,
    hold,
    simulate,
    simulate_many,
    spin_cycle,
    with_fault,
)
from counterpoise.dynamics.machines.faults import applies
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import pack
from counterpoise.dynamics.motion.run import SpinProfile
from counterpoise.dynamics.motion.simulate import simulate_arrays
from counterpoise.errors import InputError

SHORT = SpinProfile(((0.0, 0.0), (1.0, 0.0), (6.0, 300.0), (10.0, 1200.0), (16.0, 1200.0)))


def loaded(family="front_loader"):
    machine = build(family).with_unbalance(0.25, 0.6)
    return replace(machine, load=replace(machine.load, mass_kg=4.0, lumps=4))


@pytest.mark.parametrize(
    "fault", [None, "damper_dead", "soft_floor", "overload", "counterweight_lost"]
)
def test_half_the_step_changes_the_answers_by_less_than_one_per_cent(fault):
    machine = loaded() if fault is None else with_fault(loaded(), fault)
    whole, half = (
        simulate_arrays(pack(machine), machine, Run(SHORT), 200.0, finer=n) for n in (1, 2)
    )
    for a, b in (
        (whole.tub_m, half.tub_m),
        (whole.panel_m_s2, half.panel_m_s2),
        (whole.foot_n, half.foot_n),
    ):
        for part in (slice(300, 1500), slice(2400, None)):
            assert np.abs(a[part].std(axis=0) / b[part].std(axis=0) - 1.0)[..., [0, 2]].max() < 0.01


def test_half_the_step_where_play_knocks():
    """Each knock decides the next, so single blows differ.

    At full speed, where nothing knocks, the answers agree as elsewhere.
    """
    machine = with_fault(loaded(), "drum_support_cracked")
    whole, half = (
        simulate_arrays(pack(machine), machine, Run(SHORT), 200.0, finer=n).panel_m_s2
        for n in (1, 2)
    )
    assert np.abs(whole[300:1500].std(axis=0) / half[300:1500].std(axis=0) - 1.0).max() < 0.10
    assert np.abs(whole[2400:].std(axis=0) / half[2400:].std(axis=0) - 1.0).max() < 0.01


KNOCKING = {"drum_support_cracked": (0.25, 300.0), "counterweight_loose": (0.25, 500.0)}


def held(machine, rpm, finer):
    """Two minutes at one speed, the first ten seconds left out."""
    found = simulate_arrays(pack(machine), machine, Run(hold(rpm, 130.0)), 200.0, finer=finer)
    assert found.complete
    return found.panel_m_s2[2000:], found.tub_m[2000:], found.stop_n[2000:] > 0.0


def quiet(kg):
    machine = build("front_loader").with_unbalance(kg, 0.6)
    return replace(machine, load=replace(machine.load, mass_kg=4.0))


@pytest.mark.parametrize("fault", KNOCKING)
def test_half_the_step_keeps_the_statistics_of_what_knocks(fault):
    kg, rpm = KNOCKING[fault]
    machine = with_fault(quiet(kg), fault)
    (shake, tub, _), (finer_shake, finer_tub, _) = (held(machine, rpm, finer) for finer in (1, 2))
    assert finer_shake.std(axis=0) / shake.std(axis=0) == pytest.approx([1.0] * 3, abs=0.01)
    assert finer_tub.std(axis=0)[[0, 2]] / tub.std(axis=0)[[0, 2]] == pytest.approx(
        [1.0] * 2, abs=0.01
    )
    loud, finer_loud = (
        np.quantile(np.abs(s - s.mean(axis=0)).max(axis=1), 0.99) for s in (shake, finer_shake)
    )
    assert finer_loud == pytest.approx(loud, rel=0.01)


def test_half_the_step_keeps_travel_and_number_of_strikes_against_the_stops():
    machine = with_fault(quiet(1.2), "damper_weak")
    (_, tub, struck), (_, finer_tub, finer_struck) = (
        held(machine, 165.0, finer) for finer in (1, 2)
    )
    blows, finer_blows = (int((s[1:] & ~s[:-1]).sum()) for s in (struck, finer_struck))
    assert blows > 400
    assert finer_blows == pytest.approx(blows, rel=0.02)
    assert finer_tub.std(axis=0)[[0, 2]] / tub.std(axis=0)[[0, 2]] == pytest.approx(
        [1.0] * 2, abs=0.01
    )


@pytest.mark.parametrize("bushing", [6e4, 1.5e5])
@pytest.mark.parametrize("severity", [0.95, 0.99])
def test_a_lining_worn_to_little_behind_a_stiff_bushing_moves_as_in_steps_of_a_sixteenth(
    bushing, severity
):
    """It slides within less than a step; the steps grew without bound here."""
    machine = loaded()
    machine = replace(
        machine, dampers=tuple(replace(d, bushing_n_m=bushing) for d in machine.dampers)
    )
    worn = with_fault(machine, "damper_dead", severity)
    whole, fine = (simulate_arrays(pack(worn), worn, Run(SHORT), 200.0, finer=n) for n in (1, 16))
    assert whole.complete
    for part in (slice(300, 1500), slice(2400, None)):
        assert whole.panel_m_s2[part].std(axis=0) == pytest.approx(
            fine.panel_m_s2[part].std(axis=0), rel=0.05
        )


def test_the_same_run_twice_gives_the_same_bits():
    first, again = (simulate(loaded(), Run(SHORT, seed=3)) for _ in range(2))
    assert np.array_equal(first.panel_m_s2, again.panel_m_s2)


def test_many_machines_give_what_one_at_a_time_gives():
    machines = [loaded(), with_fault(loaded(), "short_foot"), loaded("top_loader")]
    together = simulate_many(machines, Run(SHORT), workers=2)
    for machine, found in zip(machines, together, strict=True):
        assert np.array_equal(found.panel_m_s2, simulate(machine, Run(SHORT)).panel_m_s2)


PROGRAM = """
import json
from counterpoise.dynamics import Run, build, simulate, with_fault
from counterpoise.dynamics.motion.run import SpinProfile
worn = with_fault(build("front_loader").with_unbalance(0.3), "bearing_worn")
machine = with_fault(worn, "counterweight_loose")
found = simulate(machine, Run(SpinProfile(((0.0, 600.0), (0.2, 900.0)))), 100.0)
print(json.dumps([found.panel_m_s2.tolist(), found.tub_m.tolist(), found.foot_n.tolist()]))
"""


def test_without_the_compiler_the_numbers_are_the_same():
    found = []
    for switch in ("0", "1"):
        env = os.environ | {
            "NUMBA_DISABLE_JIT": switch,
            "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        }
        out = subprocess.run(
            [sys.executable, "-c", PROGRAM], env=env, capture_output=True, text=True, check=True
        )
        found.append(json.loads(out.stdout))
    for compiled, plain in zip(*found, strict=True):
        a, b = np.array(compiled), np.array(plain)
        assert np.abs(a - b).max() < 1e-6 * np.abs(b).max()


EVERY = [(family, fault) for family in ("front_loader", "top_loader") for fault in sorted(FAULTS)]
POSSIBLE = [pair for pair in EVERY if applies(build(pair[0]), pair[1])]


@pytest.mark.parametrize(("family", "fault"), sorted(set(EVERY) - set(POSSIBLE)))
def test_a_fault_of_a_part_that_is_not_there_is_refused(family, fault):
    with pytest.raises(InputError, match="no such part"):
        with_fault(loaded(family), fault)


@pytest.mark.parametrize(("family", "fault"), POSSIBLE)
def test_every_fault_runs_a_whole_spin_and_stays_finite(family, fault):
    machine = loaded(family)
    assert applies(machine, fault)
    found = simulate(with_fault(machine, fault), Run(spin_cycle(600.0, 5.0)), 100.0)
    assert found.complete
    assert np.isfinite(found.panel_m_s2).all()


def test_without_friction_twice_the_unbalance_moves_twice_as_far():
    machine = build("front_loader")
    smooth = tuple(replace(d, friction_n=0.0, viscous_n_s_m=90.0) for d in machine.dampers)
    machine = replace(machine, dampers=smooth)
    one, two = (
        simulate(machine.with_unbalance(u, laundry=False), Run(hold(450.0, 15.0))).tub_m[-1000:]
        for u in (0.05, 0.1)
    )
    assert two.std(axis=0)[[0, 2]] / one.std(axis=0)[[0, 2]] == pytest.approx([2.0, 2.0], rel=0.01)


def test_a_machine_at_rest_stays_at_rest_and_the_phone_reads_gravity():
    found = simulate(build("front_loader"), Run(hold(0.0, 2.0)))
    assert np.abs(found.panel_m_s2 - [0.0, 0.0, 9.80665]).max() < 1e-3
    assert found.foot_n[-1, :, 2].sum() == pytest.approx((60.0 + 20.0) * 9.80665, rel=1e-4)


def test_random_machines_of_each_family_spin_to_the_end():
    rng = np.random.default_rng(11)
    for family in ("front_loader", "top_loader"):
        machines = [
            draw(family, rng).with_unbalance(
                float(rng.uniform(0.05, 0.4)), float(rng.uniform(0, 1))
            )
            for _ in range(8)
        ]
        for found in simulate_many(machines, Run(spin_cycle(machines[0].top_rpm, 5.0)), 100.0):
            assert found.complete
            assert np.isfinite(found.panel_m_s2).all()


def test_four_springs_carry_as_two_do_but_hold_the_tub_from_nodding():
    two, four = build("front_loader"), build("front_loader", {"spring_pairs": 2.0})
    assert len(four.springs) == 4
    hz = [{m.words: m.frequency_hz for m in modes(machine)} for machine in (two, four)]
    assert hz[1]["tub up and down"] == pytest.approx(hz[0]["tub up and down"], rel=0.01)
    assert hz[1]["tub nods"] > 1.2 * hz[0]["tub nods"]
