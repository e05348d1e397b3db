"""What drives the drum: profiles, the controller's ripple, and laundry that tumbles."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from counterpoise.dynamics import Controller, Run, SpinProfile, build, hold, run_up, spin_cycle
from counterpoise.dynamics.machines.machine import Load, Unbalance
from counterpoise.dynamics.motion.pack import RPM
from counterpoise.dynamics.motion.speed_control import (
    abandoned_points,
    clinging_rpm,
    controlled_points,
    distribution_end,
    drive_table,
    release_times,
    speed_ripple,
    static_unbalance_kg_m,
    tumbling_forces,
)

MACHINE = build("front_loader")
LAUNDRY = replace(MACHINE, load=Load(4.0, (), 3))


@pytest.mark.parametrize("top_rpm", [400.0, 1000.0, 1600.0])
@pytest.mark.parametrize("hold_s", [2.0, 20.0])
def test_a_usual_spin_rises_in_time_and_reaches_its_top_speed_for_as_long_as_asked(top_rpm, hold_s):
    profile = spin_cycle(top_rpm, hold_s)
    times, speeds = zip(*profile.points, strict=True)
    assert all(later > earlier for earlier, later in pairwise(times))
    assert max(speeds) == top_rpm
    at_top = [t for t, rpm in profile.points if rpm == top_rpm]
    assert at_top[-1] - at_top[0] == pytest.approx(hold_s)
    assert speeds[0] == speeds[-1] == 0.0
    assert profile.duration_s == times[-1]


def test_a_climb_and_a_hold_are_one_stretch_each():
    assert run_up(900.0, 6.0, 100.0).points == ((0.0, 100.0), (6.0, 900.0))
    assert hold(300.0, 5.0).points == ((0.0, 300.0), (5.0, 300.0))


@pytest.mark.parametrize("radius", [0.22, 0.25, 0.30])
def test_laundry_clings_where_the_wall_pulls_with_one_gravity(radius):
    machine = build("front_loader", {"drum_radius_m": radius})
    omega = clinging_rpm(machine) * RPM
    assert omega**2 * radius == pytest.approx(9.80665)


def test_two_equal_unbalances_opposite_one_another_are_none():
    pair = tuple(Unbalance(0.3, 0.25, 0.1, angle) for angle in (0.0, np.pi))
    assert static_unbalance_kg_m(replace(MACHINE, load=Load(0.0, pair))) < 1e-12
    beside = tuple(Unbalance(0.3, 0.25, 0.1, angle) for angle in (0.0, np.pi / 2))
    assert static_unbalance_kg_m(replace(MACHINE, load=Load(0.0, beside))) == pytest.approx(
        0.3 * 0.25 * np.sqrt(2.0)
    )


def test_the_ripple_grows_with_the_unbalance_and_falls_with_the_square_of_speed():
    one, two = (MACHINE.with_unbalance(kg) for kg in (0.001, 0.002))
    assert speed_ripple(two, 94.0) == pytest.approx(2 * speed_ripple(one, 94.0), rel=1e-2)
    assert speed_ripple(one, 47.0) == pytest.approx(4 * speed_ripple(one, 94.0))


def test_an_upright_drum_has_no_ripple():
    assert speed_ripple(build("top_loader").with_unbalance(1.0), 94.0) == pytest.approx(0.0)


def test_distribution_ends_at_the_first_climb_above_it():
    points = [(0.0, 0.0), (3.0, 48.0), (9.0, 94.0), (20.0, 400.0), (30.0, 0.0)]
    assert distribution_end(points, 120.0) == 3
    assert distribution_end(points, 1000.0) == len(points)
    assert distribution_end(points, -1.0) == 0


@pytest.mark.parametrize("attempts", [1, 3, 5])
def test_a_spin_given_up_tumbles_again_as_often_as_it_may_and_stops(attempts):
    points = [(0.0, 0.0), (3.0, 48.0), (9.0, 94.0), (20.0, 400.0)]
    abandoned = abandoned_points(points, 3, Controller(attempts=attempts))
    times, speeds = zip(*abandoned, strict=True)
    assert all(later > earlier for earlier, later in pairwise(times))
    assert speeds.count(94.0) == attempts
    assert max(speeds) == 94.0
    assert speeds[-1] == 0.0


def test_without_a_controller_or_a_distribution_the_profile_is_kept():
    heavy = MACHINE.with_unbalance(3.0)
    profile = spin_cycle(1000.0)
    assert controlled_points(heavy, Run(profile)) == list(profile.points)
    climb = run_up(900.0, 6.0)
    assert controlled_points(heavy, Run(climb, Controller())) == list(climb.points)
    slow = hold(40.0, 5.0)
    assert controlled_points(heavy, Run(slow, Controller())) == list(slow.points)


def test_the_table_is_the_profile_in_radians():
    table = drive_table(MACHINE, Run(SpinProfile(((0.0, 0.0), (4.0, 300.0)))))
    assert table.tolist() == [[0.0, 0.0], [4.0, pytest.approx(300.0 * np.pi / 30.0)]]


def test_lumps_let_go_only_while_the_drum_is_too_slow_to_hold_them():
    cling = clinging_rpm(MACHINE) * RPM
    table = np.array([[0.0, 0.0], [5.0, 0.0], [10.0, 0.5 * cling], [40.0, 0.5 * cling],
                      [45.0, 3.0 * cling], [80.0, 3.0 * cling]])  # fmt: skip
    times = release_times(table, cling, np.random.default_rng(2))
    speeds = np.interp(times, table[:, 0], table[:, 1])
    assert len(times) > 5
    assert ((speeds > 0.15 * cling) & (speeds < 1.15 * cling)).all()
    assert all(later > earlier for earlier, later in pairwise(times))


def test_what_falls_gives_back_what_it_took():
    """A lump in flight takes its weight off the tub and lands with the same impulse."""
    rate = 200.0
    table = drive_table(LAUNDRY, Run(hold(45.0, 40.0)))
    forces = tumbling_forces(LAUNDRY, table, 7, rate)
    up = forces[:, 1]
    taken = up[up > 0.0].sum() / rate
    # up to the flights under way at the end of the run
    assert up.sum() / rate == pytest.approx(0.0, abs=0.1 * taken)
    assert abs(forces[:, 0]).max() > 0.0


def test_the_same_seed_tumbles_the_same_and_another_does_not():
    table = drive_table(LAUNDRY, Run(hold(45.0, 20.0)))
    first, again, other = (tumbling_forces(LAUNDRY, table, seed, 200.0) for seed in (1, 1, 2))
    assert (first == again).all()
    assert (first != other).any()


@pytest.mark.parametrize(
    "machine",
    [MACHINE, replace(MACHINE, load=Load(4.0, (), 0)), replace(MACHINE, load=Load(0.0, (), 3)),
     replace(build("top_loader"), load=Load(4.0, (), 3))],
    ids=["empty", "no lumps", "no laundry", "upright drum"],
)  # fmt: skip
def test_nothing_tumbles_where_nothing_can(machine):
    table = drive_table(machine, Run(hold(45.0, 20.0)))
    assert not tumbling_forces(machine, table, 0, 200.0).any()
