"""Nonsense is refused with the reason and the valid range."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.dynamics import (
    FAMILIES,
    FAULTS,
    Controller,
    Phone,
    Run,
    SpinProfile,
    build,
    draw,
    hold,
    run_up,
    simulate,
    simulate_many,
    spin_cycle,
    with_fault,
)
from counterpoise.dynamics.machines.machine import Unbalance
from counterpoise.dynamics.motion.check import check
from counterpoise.dynamics.motion.speed_control import controlled_points, speed_ripple
from counterpoise.errors import InputError

MACHINE = build("front_loader")


def broken(**changes):
    return replace(MACHINE, **changes)


NONSENSE = {
    "negative mass": broken(cabinet=replace(MACHINE.cabinet, mass_kg=-3.0)),
    "no mass": broken(tub=replace(MACHINE.tub, mass_kg=0.0)),
    "not a number": broken(tub=replace(MACHINE.tub, mass_kg=float("nan"))),
    "impossible inertia": broken(tub=replace(MACHINE.tub, inertia_kg_m2=(1.0, 1.0, 9.0))),
    "spring shorter than its coils": broken(
        springs=(replace(MACHINE.springs[0], free_length_m=0.04),)
    ),
    "no spring": broken(springs=()),
    "friction": broken(dampers=(replace(MACHINE.dampers[0], friction_n=-5.0),)),
    "damper without length": broken(
        dampers=(replace(MACHINE.dampers[0], cabinet_m=MACHINE.dampers[0].tub_m),)
    ),
    "unbalance outside the drum": broken(
        load=replace(MACHINE.load, unbalances=(Unbalance(0.3, 0.9, 0.1),))
    ),
    "unbalance beside the drum": broken(
        load=replace(MACHINE.load, unbalances=(Unbalance(0.3, 0.2, 0.9),))
    ),
}


@pytest.mark.parametrize("what", sorted(NONSENSE))
def test_a_machine_that_cannot_be(what):
    with pytest.raises(InputError) as told:
        check(NONSENSE[what])
    assert told.value.field
    assert told.value.remedy


def test_the_refusal_tells_the_valid_range():
    with pytest.raises(InputError, match=r"-3.*above 0 to 300"):
        check(NONSENSE["negative mass"])
    with pytest.raises(InputError, match=r"solid at 0\.050"):
        check(NONSENSE["spring shorter than its coils"])


@pytest.mark.parametrize(
    ("run", "says"),
    [
        (Run(hold(2500.0, 1.0)), "2000 rpm"),
        (Run(SpinProfile(((0.0, 0.0),))), "two points"),
        (Run(SpinProfile(((0.0, 0.0), (0.0, 5.0)))), "rising"),
        (Run(hold(100.0, 4000.0)), "3600"),
        (Run(hold(100.0, 1.0), phone=Phone(x_m=0.5)), "top panel"),
    ],
)
def test_a_run_beyond_the_model(run, says):
    with pytest.raises(InputError, match=says):
        simulate(MACHINE, run)


def test_a_sample_rate_beyond_the_model():
    with pytest.raises(InputError, match="10 to 4000 Hz"):
        simulate(MACHINE, Run(hold(100.0, 1.0)), 5.0)


def test_machines_and_runs_must_match():
    with pytest.raises(InputError, match="2 machines but 1 runs"):
        simulate_many([MACHINE, MACHINE], [Run(hold(100.0, 1.0))])


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: build("tumble_dryer"), "front_loader"),
        (lambda: build("front_loader", {"colour": 1.0}), "oscillating_kg"),
        (lambda: build("front_loader", {"oscillating_kg": 5.0}), "38 to 66"),
        (lambda: with_fault(MACHINE, "gremlins"), "damper_dead"),
        (lambda: with_fault(MACHINE, "damper_dead", 2.0), "0 .sound. to 1"),
        (lambda: with_fault(MACHINE, "damper_dead", 1.0, 7), "0 to 1"),
        (lambda: with_fault(build("top_loader"), "counterweight_lost"), "no such part"),
    ],
)
def test_unknown_names_and_values_are_answered_with_what_there_is(call, says):
    with pytest.raises(InputError, match=says):
        call()


def test_no_fault_at_severity_zero_changes_how_the_machine_moves():
    machine = MACHINE.with_unbalance(0.2)
    reference = simulate(machine, Run(hold(300.0, 2.0))).panel_m_s2
    for key in FAULTS:
        if key == "ring_empty":
            continue
        found = simulate(with_fault(machine, key, 0.0), Run(hold(300.0, 2.0))).panel_m_s2
        assert np.abs(found - reference).max() < 1e-6, key


@pytest.mark.parametrize("family", sorted(FAMILIES))
def test_every_value_names_its_source_and_random_machines_are_valid(family):
    for value in FAMILIES[family].values.values():
        assert value.source
        assert value.low <= value.default <= value.high
    rng = np.random.default_rng(5)
    for _ in range(25):
        check(draw(family, rng))


def test_the_controller_gives_up_on_a_heavy_thing_and_lets_a_light_one_pass():
    control = Run(spin_cycle(1000.0), controller=Controller())
    heavy, light = (
        replace(
            MACHINE.with_unbalance(kg), load=replace(MACHINE.with_unbalance(kg).load, mass_kg=4.0)
        )
        for kg in (2.0, 0.1)
    )
    assert speed_ripple(heavy, 94.0) > Controller().ripple_limit > speed_ripple(light, 94.0)
    assert max(rpm for _, rpm in controlled_points(heavy, control)) < 100.0
    assert controlled_points(light, control) == list(control.profile.points)
    assert simulate(heavy, control).gave_up
    assert not simulate(light, control).gave_up


def test_the_travel_switch_cuts_the_spin():
    machine = with_fault(MACHINE.with_unbalance(0.6, laundry=False), "two_dampers_dead")
    run = Run(run_up(600.0, 12.0), controller=Controller(ripple_limit=9.0, travel_m=0.012))
    found = simulate(machine, run)
    assert found.gave_up
    assert found.drum_rpm.max() < 400.0
