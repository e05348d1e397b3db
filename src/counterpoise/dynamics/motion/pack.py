"""From the parts of a machine to the flat arrays the compiled loops read (``kernels.layout``)."""

from dataclasses import dataclass
from math import cos, pi, sin
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.layout import GRAVITY
from counterpoise.dynamics.machines.machine import Damper, Machine, Spring, Vector

Floats = NDArray[np.float64]
# rad/s in one rpm
RPM = pi / 30.0
# The seat of a loose weight, N/m and N s/m: steel on plastic, stiff enough to knock (estimate).
SEAT_N_M, SEAT_N_S_M = 4e5, 300.0
# Wet laundry lies as a shell at this share of the drum's radius (estimate).
SHELL_SHARE = 0.85


class MachineArrays(NamedTuple):
    """A machine as arrays; columns as ``kernels.layout`` names them, SI units."""

    cabinet: Floats  # (4,): mass, inertia x y z
    inertia: Floats  # (3, 3): tub group about its centre of gravity
    # (2, 8, 8): force to acceleration of tub and drum tilt, below and above engagement of the ring
    inverse: Floats
    axes: Floats  # (3, 3): two cross axes and the drum axis as rows
    gap: Floats  # (3,): tub group's centre less the cabinet's
    struts: Floats  # (s, 13): dampers, then springs
    ties: Floats  # (t, 15): bellows, transit bolts, damper pins
    stops: Floats  # (2, 17): front and rear end of the tub
    feet: Floats  # (4, 9)
    weight: Floats  # (7,): loose weight, no mass where there is none
    hub: Floats  # (5,)
    bearing: Floats  # (3,)
    floor: Floats  # (3,)
    drum: Floats  # (9,)
    unbalances: Floats  # (u, 6)


@dataclass(frozen=True)
class RigidPart:
    """A rigid part: mass, centre (3,), inertia (3, 3) about its own centre."""

    mass_kg: float
    centre_m: Floats
    inertia_kg_m2: Floats


def parallel_axis(mass_kg: float, arm_m: Floats) -> Floats:
    """Inertia (3, 3) of a point mass at an arm, for the parallel axis theorem (Steiner)."""
    return np.asarray(mass_kg * (arm_m @ arm_m * np.eye(3) - np.outer(arm_m, arm_m)))


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product of two vectors; a tenth of the time of the general one."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def combine(parts: list[RigidPart]) -> RigidPart:
    """Several parts as one rigid body: mass, common centre, inertia about it."""
    mass = sum(p.mass_kg for p in parts)
    centre = np.asarray(sum(p.mass_kg * p.centre_m for p in parts) / mass)
    inertia = sum(
        (p.inertia_kg_m2 + parallel_axis(p.mass_kg, p.centre_m - centre) for p in parts),
        np.zeros((3, 3)),
    )
    return RigidPart(mass, centre, inertia)


def drum_axes(machine: Machine) -> Floats:
    """Two cross axes and the drum axis as rows (3, 3), right-handed."""
    a = np.array(machine.drum.axis) / np.linalg.norm(machine.drum.axis)
    # whichever of x and y is not nearly along the axis
    first = np.array([1.0, 0.0, 0.0]) if abs(a[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first -= first @ a * a
    first /= np.linalg.norm(first)
    return np.array([first, cross(a, first), a])


def turning_parts(machine: Machine) -> list[RigidPart]:
    """Drum, laundry as a shell on its wall, unbalances on the axis: their offset is a force."""
    drum, load, a = machine.drum, machine.load, drum_axes(machine)[2]
    along = np.outer(a, a)
    middle = np.array(drum.hub_m) + 0.5 * drum.depth_m * a
    parts = [
        RigidPart(
            drum.mass_kg,
            middle,
            drum.cross_inertia_kg_m2 * (np.eye(3) - along) + drum.spin_inertia_kg_m2 * along,
        )
    ]
    spin = load.mass_kg * (SHELL_SHARE * drum.radius_m) ** 2
    cross = 0.5 * spin + load.mass_kg * drum.depth_m**2 / 12.0
    parts.append(RigidPart(load.mass_kg, middle, cross * (np.eye(3) - along) + spin * along))
    parts += [
        RigidPart(u.mass_kg, np.array(drum.hub_m) + u.depth_m * a, np.zeros((3, 3)))
        for u in load.unbalances
    ]
    return parts


def tub_group(machine: Machine) -> RigidPart:
    """Everything that swings: tub, tight counterweights, drum, load. A loose weight does not."""
    tub = machine.tub
    parts = [RigidPart(tub.mass_kg, np.array(tub.centre_m), np.diag(tub.inertia_kg_m2))]
    parts += [
        RigidPart(w.mass_kg, np.array(w.place_m), np.zeros((3, 3)))
        for w in tub.weights
        if w.gap_m <= 0.0
    ]
    return combine(parts + turning_parts(machine))


def inverse_inertia(machine: Machine, group: RigidPart, ring_kg: float) -> Floats:
    """Inverse (8, 8) of the inertia of tub group and drum tilt in tub axes.

    The tilt rows are zero while the hub is rigid. ``ring_kg`` is what the balance ring adds.
    """
    axes, drum = drum_axes(machine), combine(turning_parts(machine))
    a, hub = axes[2], np.array(machine.drum.hub_m)
    lever = float((drum.centre_m - hub) @ a)
    full = np.zeros((8, 8))
    # The ring's liquid follows across the axis only; along it the ring is a plain mass.
    full[:3, :3] = group.mass_kg * np.eye(3) + ring_kg * (np.eye(3) - np.outer(a, a))
    full[3:6, 3:6] = group.inertia_kg_m2
    about_hub = drum.inertia_kg_m2 + parallel_axis(drum.mass_kg, lever * a)
    # Tilting the drum about an axis of the hub moves its mass and turns it: the coupling terms.
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
    """Struts (s, 13), dampers first: their bushings' memory is indexed by row."""
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
                    # no friction settles at no speed; 1 keeps a division from failing
                    1.0,
                    0.0,
                    float(part.pulls_only),
                ]
            )
    return np.array(rows).reshape(-1, 13)


def tie_rows(machine: Machine, cab: Floats, tub: Floats) -> Floats:
    """Ties (t, 15): bellows, transit bolts and damper pins, which give way across, little along."""
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
    """Stops (2, 17) at both ends of the tub, with what tells at once that nothing touches."""
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
    """Feet (4, 9); a sloping floor is one that stands higher under some of them."""
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
    """Drum support (5,); the weak direction counts as stiff where none is given."""
    h = machine.hub
    return [
        h.weak_n_m_rad or h.stiffness_n_m_rad,
        h.stiffness_n_m_rad,
        h.weak_play_rad,
        h.damping_n_m_s_rad,
        h.bearing_play_rad,
    ]


def pack(machine: Machine) -> MachineArrays:
    """Machine to arrays, unchecked: ``motion.check.check`` raises InputError for nonsense."""
    group, turning = tub_group(machine), combine(turning_parts(machine))
    cab, axes = np.array(machine.cabinet.centre_m), drum_axes(machine)
    hub = np.array(machine.drum.hub_m)
    # The model has one loose weight; a second one would be left out of everything.
    loose = [w for w in machine.tub.weights if w.gap_m > 0.0]
    weight = [0.0] * 7
    if loose:
        place = np.array(loose[0].place_m) - group.centre_m
        weight = [loose[0].mass_kg, loose[0].gap_m, SEAT_N_M, SEAT_N_S_M, *place]
    spin = float(axes[2] @ turning.inertia_kg_m2 @ axes[2])
    lever = float((turning.centre_m - hub) @ axes[2])
    # laundry clings to the wall above omega^2 = g / R
    cling = GRAVITY / machine.drum.radius_m
    ring, bearing, floor = machine.ring, machine.bearing, machine.floor
    drum = [
        spin,
        turning.mass_kg,
        ring.engages_rpm * RPM,
        lever,
        *(hub - group.centre_m),
        group.mass_kg,
        cling,
    ]
    return MachineArrays(
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
        bearing=np.array([bearing.rough_n, bearing.tone_n, bearing.tone_order]),
        floor=np.array([floor.mass_kg, floor.stiffness_n_m, floor.damping_n_s_m]),
        drum=np.array(drum),
        unbalances=unbalance_rows(machine),
    )


def unbalance_rows(machine: Machine) -> Floats:
    """Unbalances (u, 6); the angle as cosine and sine, which the kernel would take each step."""
    rows = [
        [u.mass_kg, u.radius_m, u.depth_m, cos(u.angle_rad), sin(u.angle_rad), float(u.laundry)]
        for u in machine.load.unbalances
    ]
    return np.array(rows).reshape(-1, 6)
