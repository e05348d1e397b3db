"""From parts to arrays: masses, centres and inertias add up as the parallel axis theorem says."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.dynamics import build, draw, with_fault
from counterpoise.dynamics.kernels.layout import (
    BUSHINGS,
    DRY_FRICTION,
    FOOT_LENGTH,
    GROUP_MASS,
    HEAVY_COS,
    HEAVY_SIN,
    STOP_LEAST_WAY,
    STRUT_STIFFNESS,
    WEIGHT_MASS,
)
from counterpoise.dynamics.machines.machine import Load, Unbalance
from counterpoise.dynamics.motion.pack import (
    RigidPart,
    combine,
    cross,
    drum_axes,
    inverse_inertia,
    pack,
    parallel_axis,
    tub_group,
)

FAMILIES = ("front_loader", "top_loader")


def test_two_points_on_a_rod_are_a_dumbbell():
    ends = [RigidPart(2.0, np.array([x, 0.0, 0.0]), np.zeros((3, 3))) for x in (-0.3, 0.3)]
    rod = combine(ends)
    assert rod.mass_kg == 4.0
    assert rod.centre_m == pytest.approx(np.zeros(3))
    assert np.diag(rod.inertia_kg_m2) == pytest.approx([0.0, 4 * 0.09, 4 * 0.09])


def test_combining_in_two_steps_is_combining_at_once():
    rng = np.random.default_rng(3)
    parts = [
        RigidPart(float(rng.uniform(1, 9)), rng.uniform(-1, 1, 3), np.diag(rng.uniform(0.1, 1, 3)))
        for _ in range(5)
    ]
    once, twice = combine(parts), combine([combine(parts[:2]), combine(parts[2:])])
    assert twice.mass_kg == pytest.approx(once.mass_kg)
    assert twice.centre_m == pytest.approx(once.centre_m)
    assert twice.inertia_kg_m2 == pytest.approx(once.inertia_kg_m2)


def test_the_parallel_axis_adds_mass_times_the_square_of_the_distance():
    assert np.diag(parallel_axis(2.0, np.array([3.0, 0.0, 0.0]))) == pytest.approx([0, 18, 18])
    assert parallel_axis(2.0, np.array([1.0, 1.0, 0.0]))[0, 1] == pytest.approx(-2.0)


def test_the_quick_vector_product_is_numpys():
    rng = np.random.default_rng(1)
    for a, b in zip(rng.normal(size=(9, 3)), rng.normal(size=(9, 3)), strict=True):
        assert cross(a, b) == pytest.approx(np.cross(a, b))


@pytest.mark.parametrize("key", FAMILIES)
def test_the_drums_axes_are_right_handed_and_of_length_one(key):
    axes = drum_axes(build(key))
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert axes[2] == pytest.approx(build(key).drum.axis)


@pytest.mark.parametrize("kg", [58.0, 60.0, 66.0])
def test_a_front_loader_swings_with_the_mass_and_inertia_that_were_asked_for(kg):
    machine = build("front_loader", {"oscillating_kg": kg, "centre_y_m": 0.02})
    group = tub_group(machine)
    assert group.mass_kg == pytest.approx(kg)
    assert group.centre_m == pytest.approx([0.0, 0.02, 0.46], abs=1e-9)
    assert np.diag(group.inertia_kg_m2) == pytest.approx([3.0, 2.5, 3.0], rel=0.02)


def test_a_loose_weight_swings_by_itself():
    machine = build("front_loader")
    par = pack(with_fault(machine, "counterweight_loose"))
    whole = pack(machine)
    assert par.weight[WEIGHT_MASS] == 10.0
    assert whole.weight[WEIGHT_MASS] == 0.0
    assert par.drum[GROUP_MASS] == pytest.approx(whole.drum[GROUP_MASS] - 10.0)


@pytest.mark.parametrize("key", FAMILIES)
def test_a_force_at_the_centre_moves_the_group_without_turning_it(key):
    machine = build(key)
    group = tub_group(machine)
    inverse = inverse_inertia(machine, group, 0.0)
    assert inverse[:3, :3] == pytest.approx(np.eye(3) / group.mass_kg)
    assert inverse[3:6, 3:6] == pytest.approx(np.linalg.inv(group.inertia_kg_m2))
    # a rigid hub has no coordinates
    assert not inverse[6:].any()
    assert not inverse[:, 6:].any()


def test_the_balance_ring_adds_mass_across_the_axis_only():
    machine = build("top_loader")
    group = tub_group(machine)
    with_ring = inverse_inertia(machine, group, machine.ring.added_kg)
    across, along = with_ring[0, 0], with_ring[2, 2]
    assert across == pytest.approx(1.0 / (group.mass_kg + machine.ring.added_kg))
    assert along == pytest.approx(1.0 / group.mass_kg)


def test_a_hub_that_gives_keeps_momentum():
    """The whole group with its drum on a hub weighs the same: F = m a for a force along the
    axis.
    """
    machine = with_fault(build("front_loader"), "drum_support_cracked")
    group = tub_group(machine)
    full = np.linalg.inv(inverse_inertia(machine, group, 0.0))
    assert full[:3, :3] == pytest.approx(group.mass_kg * np.eye(3))
    assert full == pytest.approx(full.T)
    assert np.linalg.eigvalsh(full).min() > 0.0


def test_dampers_come_before_springs_and_have_a_place_each():
    par = pack(build("front_loader", {"dampers": 3.0, "spring_pairs": 2.0}))
    assert par.struts.shape == (7, 13)
    assert (par.struts[:3, DRY_FRICTION] > 0.0).all()
    assert not par.struts[3:, DRY_FRICTION].any()
    assert not par.struts[:3, STRUT_STIFFNESS].any()
    assert (par.struts[3:, STRUT_STIFFNESS] > 0.0).all()
    assert len(par.struts) <= BUSHINGS


def test_more_dampers_share_the_same_friction():
    for count in (2.0, 3.0, 4.0):
        par = pack(build("front_loader", {"dampers": count}))
        assert par.struts[:, DRY_FRICTION].sum() == pytest.approx(2 * 60.0)


def test_a_sloping_floor_stands_higher_under_some_feet():
    par = pack(with_fault(build("front_loader"), "not_level"))
    lengths = par.feet[:, FOOT_LENGTH]
    # down to the right and to the front: highest at the rear left
    assert lengths.argmax() == 2
    assert lengths.argmin() == 1
    assert lengths.sum() == pytest.approx(0.0, abs=1e-12)


def test_the_least_way_of_a_stop_is_the_shortest_of_the_six():
    machine = build("front_loader")
    stops = replace(machine.stops, side_m=0.03, along_m=0.02, down_m=0.015, up_m=0.025)
    assert pack(replace(machine, stops=stops)).stops[:, STOP_LEAST_WAY].tolist() == [0.015, 0.015]


def test_an_unbalance_is_packed_by_its_angle():
    load = Load(0.0, tuple(Unbalance(0.2, 0.25, 0.1, angle) for angle in (0.0, 0.5, -2.0)))
    par = pack(replace(build("front_loader"), load=load))
    angles = np.arctan2(par.unbalances[:, HEAVY_SIN], par.unbalances[:, HEAVY_COS])
    assert angles == pytest.approx([0.0, 0.5, -2.0])


@pytest.mark.parametrize("key", FAMILIES)
def test_random_machines_pack_to_finite_numbers(key):
    rng = np.random.default_rng(8)
    for _ in range(20):
        for name, array in pack(draw(key, rng).with_unbalance(0.3))._asdict().items():
            assert np.isfinite(array).all(), name
