"""From the parts of a machine to the flat arrays the compiled loops read."""

from dataclasses import dataclass
from math import cos, pi, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.forces import GRAVITY
from counterpoise.dynamics.machines.machine import Damper, Machine, Spring, Vector

Floats = NDArray[np.float64]
RPM = pi / 30.0  # rad/s


class Par(NamedTuple):
    """A machine as arrays; columns as ``kernels.forces`` reads them."""

    cabinet: Floats  # mass, inertia x y z
    inertia: Floats  # tub group, 3 x 3 about its centre of gravity
    inverse: Floats  # 2 x 8 x 8: force to acceleration of tub and drum tilt, below and above engagement of the ring
    axes: Floats  # two cross axes and the drum axis
    gap: Floats  # tub group's centre less the cabinet's
    struts: Floats  # cabinet node, tub node, k, L0, c, F, v_s, bushing, pulls only
    ties: Floats  # cabinet node, tub node, k x y z, c x y z, offset x y z
    stops: Floats  # cabinet point, tub point, left right, front rear, down up, k, c, both arms' lengths, least room
    feet: Floats  # place, length, k, c, side k, side c, friction
    weight: Floats  # loose weight: mass, gap, k, c, place
    hub: Floats  # weak k, stiff k, play, c, play all round
    bearing: Floats  # roughness, tone, order
    floor: Floats  # mass, k, c
    drum: Floats  # spin inertia, mass on the hub, engagement rad/s, lever, hub x y z, group mass, clinging speed squared
    unbalances: Floats  # mass, radius, depth, cos, sin, laundry


@dataclass(frozen=True)
class Lump:
    """A rigid part: mass, centre, inertia about its own centre."""

    mass_kg: float
    centre_m: Floats
    inertia_kg_m2: Floats


def steiner(mass_kg: float, arm_m: Floats) -> Floats:
    """Inertia of a point mass at an arm, 3 x 3."""
    return np.asarray(mass_kg * (arm_m @ arm_m * np.eye(3) - np.outer(arm_m, arm_m)))


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product of two vectors; a tenth of the time of the general one."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def joined(parts: list[Lump]) -> Lump:
    """Several parts as one rigid body."""
    mass = sum(p.mass_kg for p in parts)
    centre = np.asarray(sum(p.mass_kg * p.centre_m for p in parts) / mass)
    inertia = sum(
        (p.inertia_kg_m2 + steiner(p.mass_kg, p.centre_m - centre) for p in parts), np.zeros((3, 3))
    )
    return Lump(mass, centre, inertia)


def drum_axes(machine: Machine) -> Floats:
    """Two cross axes and the drum axis as rows, right-handed."""
    a = np.array(machine.drum.axis) / np.linalg.norm(machine.drum.axis)
    first = np.array([1.0, 0.0, 0.0]) if abs(a[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first -= first @ a * a
    first /= np.linalg.norm(first)
    return np.array([first, cross(a, first), a])


def turning_parts(machine: Machine) -> list[Lump]:
    """Drum, wet laundry as a shell on its wall, unbalances on the axis (their offset is a force)."""
    drum, load, a = machine.drum, machine.load, drum_axes(machine)[2]
    along = np.outer(a, a)
    middle = np.array(drum.hub_m) + 0.5 * drum.depth_m * a
    parts = [
        Lump(
            drum.mass_kg,
            middle,
            drum.cross_inertia_kg_m2 * (np.eye(3) - along) + drum.spin_inertia_kg_m2 * along,
        )
    ]
    spin = load.mass_kg * (0.85 * drum.radius_m) ** 2
    cross = 0.5 * spin + load.mass_kg * drum.depth_m**2 / 12.0
    parts.append(Lump(load.mass_kg, middle, cross * (np.eye(3) - along) + spin * along))
    parts += [
        Lump(u.mass_kg, np.array(drum.hub_m) + u.depth_m * a, np.zeros((3, 3)))
        for u in load.unbalances
    ]
    return parts


def tub_group(machine: Machine) -> Lump:
    """Everything that swings: tub, tight counterweights, drum, load."""
    tub = machine.tub
    parts = [Lump(tub.mass_kg, np.array(tub.centre_m), np.diag(tub.inertia_kg_m2))]
    parts += [
        Lump(w.mass_kg, np.array(w.place_m), np.zeros((3, 3)))
        for w in tub.weights
        if w.gap_m <= 0.0
    ]
    return joined(parts + turning_parts(machine))


def inverse_inertia(machine: Machine, group: Lump, ring_kg: float) -> Floats:
    """Inverse of the 8 x 8 inertia of tub group and drum tilt in tub axes.

    The tilt rows are zero while the hub is rigid.
    """
    axes, drum = drum_axes(machine), joined(turning_parts(machine))
    a, hub = axes[2], np.array(machine.drum.hub_m)
    lever = float((drum.centre_m - hub) @ a)
    full = np.zeros((8, 8))
    full[:3, :3] = group.mass_kg * np.eye(3) + ring_kg * (np.eye(3) - np.outer(a, a))
    full[3:6, 3:6] = group.inertia_kg_m2
    about_hub = drum.inertia_kg_m2 + steiner(drum.mass_kg, lever * a)
    for i in range(2):
        swing = drum.mass_kg * lever * cross(axes[i], a)
        full[:3, 6 + i] = full[6 + i, :3] = swing
        full[3:6, 6 + i] = full[6 + i, 3:6] = (
            cross(hub - group.centre_m, swing) + about_hub @ axes[i]
        )
        full[6 + i, 6 + i] = axes[i] @ about_hub @ axes[i]
    size = 8 if machine.hub.stiffness_n_m_rad > 0.0 else 6
    inverse = np.zeros((8, 8))
    inverse[:size, :size] = np.linalg.inv(full[:size, :size])
    return inverse


def strut_rows(machine: Machine, cab: Floats, tub: Floats) -> Floats:
    """Dampers first: their bushings' memory is indexed by row."""
    rows = []
    parts: list[Damper | Spring] = [*machine.dampers, *machine.springs]
    for part in parts:
        ends = [*(np.array(part.cabinet_m) - cab), *(np.array(part.tub_m) - tub)]
        if isinstance(part, Damper):
            rows.append(
                [
                    *ends,
                    0.0,
                    0.0,
                    part.viscous_n_s_m,
                    part.friction_n,
                    part.settling_speed_m_s,
                    part.bushing_n_m,
                    0.0,
                ]
            )
        else:
            rows.append(
                [
                    *ends,
                    part.stiffness_n_m,
                    part.free_length_m,
                    part.damping_n_s_m,
                    0.0,
                    1.0,
                    0.0,
                    float(part.pulls_only),
                ]
            )
    return np.array(rows).reshape(-1, 13)


def tie_rows(machine: Machine, cab: Floats, tub: Floats) -> Floats:
    """Bellows, transit bolts, and the pins of the dampers, which give way across the machine but little along it."""
    ties: list[tuple[Vector, Vector, Vector]] = [
        (b.place_m, b.stiffness_n_m, b.damping_n_s_m) for b in machine.bellows
    ]
    bolts = machine.bolts
    ties += [(p, (bolts.stiffness_n_m,) * 3, (bolts.damping_n_s_m,) * 3) for p in bolts.places_m]
    ties += [
        (d.tub_m, (0.0, d.pin_n_m, 0.0), (0.0, d.pin_n_s_m, 0.0))
        for d in machine.dampers
        if d.pin_n_m > 0.0
    ]
    rows = [[*(np.array(p) - cab), *(np.array(p) - tub), *k, *c, 0.0, 0.0, 0.0] for p, k, c in ties]
    return np.array(rows).reshape(-1, 15)


def stop_rows(machine: Machine, cab: Floats, tub: Floats) -> Floats:
    """Both ends of the tub."""
    s = machine.stops
    room = [s.side_m, s.side_m, s.along_m, s.along_m, s.down_m, s.up_m]
    rows = []
    for end in s.ends_m:
        arms = np.array(end) - cab, np.array(end) - tub
        reach = [float(np.linalg.norm(arm)) for arm in arms]
        rows.append(
            [*arms[0], *arms[1], *room, s.stiffness_n_m15, s.damping_n_s_m, *reach, min(room)]
        )
    return np.array(rows)


def foot_rows(machine: Machine, cab: Floats) -> Floats:
    """Feet; a sloping floor is one that stands higher under some of them."""
    sx, sy = machine.floor.slope
    rows = []
    for f in machine.feet:
        side = f.side_share * f.stiffness_n_m
        length = f.length_m + sx * f.place_m[0] + sy * f.place_m[1]
        rows.append(
            [
                *(np.array(f.place_m) - cab),
                length,
                f.stiffness_n_m,
                f.damping_n_s_m,
                side,
                f.damping_n_s_m,
                f.friction,
            ]
        )
    return np.array(rows)


def hub_row(machine: Machine) -> list[float]:
    """The weak direction counts as stiff where none is given."""
    h = machine.hub
    return [
        h.weak_n_m_rad or h.stiffness_n_m_rad,
        h.stiffness_n_m_rad,
        h.weak_play_rad,
        h.damping_n_m_s_rad,
        h.bearing_play_rad,
    ]


def pack(machine: Machine) -> Par:
    """Machine to arrays; does not check the machine (``check`` does)."""
    group, turning = tub_group(machine), joined(turning_parts(machine))
    cab, axes = np.array(machine.cabinet.centre_m), drum_axes(machine)
    hub = np.array(machine.drum.hub_m)
    loose = [w for w in machine.tub.weights if w.gap_m > 0.0]
    weight = [0.0] * 7
    if loose:
        weight = [
            loose[0].mass_kg,
            loose[0].gap_m,
            4e5,
            300.0,
            *(np.array(loose[0].place_m) - group.centre_m),
        ]
    spin = float(axes[2] @ turning.inertia_kg_m2 @ axes[2])
    lever = float((turning.centre_m - hub) @ axes[2])
    cling = GRAVITY / machine.drum.radius_m
    ring = machine.ring
    drum = [
        spin,
        turning.mass_kg,
        ring.engages_rpm * RPM,
        lever,
        *(hub - group.centre_m),
        group.mass_kg,
        cling,
    ]
    return Par(
        cabinet=np.array([machine.cabinet.mass_kg, *machine.cabinet.inertia_kg_m2]),
        inertia=np.ascontiguousarray(group.inertia_kg_m2),
        inverse=np.array([inverse_inertia(machine, group, kg) for kg in (0.0, ring.added_kg)]),
        axes=axes,
        gap=group.centre_m - cab,
        struts=strut_rows(machine, cab, group.centre_m),
        ties=tie_rows(machine, cab, group.centre_m),
        stops=stop_rows(machine, cab, group.centre_m),
        feet=foot_rows(machine, cab),
        weight=np.array(weight),
        hub=np.array(hub_row(machine)),
        bearing=np.array(
            [machine.bearing.rough_n, machine.bearing.tone_n, machine.bearing.tone_order]
        ),
        floor=np.array(
            [machine.floor.mass_kg, machine.floor.stiffness_n_m, machine.floor.damping_n_s_m]
        ),
        drum=np.array(drum),
        unbalances=np.array(
            [
                [
                    u.mass_kg,
                    u.radius_m,
                    u.depth_m,
                    cos(u.angle_rad),
                    sin(u.angle_rad),
                    float(u.laundry),
                ]
                for u in machine.load.unbalances
            ]
        ).reshape(-1, 6),
    )
