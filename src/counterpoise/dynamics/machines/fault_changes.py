"""What each mechanical fault changes in the machine: masses, springs, dampers, feet, floor.

Each change takes the machine, a severity (0 sound, 1 the gross form found at the bench) and which
part, and returns a new machine. Sizes at severity 1 are estimates unless a source is named.
"""

from dataclasses import replace
from math import radians

import numpy as np

from counterpoise.dynamics.machines.machine import (
    Bearing,
    Bolts,
    Damper,
    Floor,
    Machine,
    Spring,
    Unbalance,
)

# Stiffness of a sound drum support in N m/rad, for the faults that need one (estimate).
SUPPORT_N_M_RAD = 9e4


def _damper(machine: Machine, which: int, share: float) -> Machine:
    def faded(d: Damper) -> Damper:
        return replace(d, friction_n=d.friction_n * share, viscous_n_s_m=d.viscous_n_s_m * share)

    return replace(
        machine, dampers=tuple(faded(d) if i == which else d for i, d in enumerate(machine.dampers))
    )


def damper_dead(machine: Machine, severity: float, which: int) -> Machine:
    """One damper without friction: a separated or worn-out one."""
    return _damper(machine, which, 1.0 - severity)


def damper_weak(machine: Machine, severity: float, which: int) -> Machine:
    """The whole set worn: down to 35 % of its friction in N."""
    # a set that wears as one has no single part
    del which
    for i in range(len(machine.dampers)):
        machine = _damper(machine, i, 1.0 - 0.65 * severity)
    return machine


def dampers_gone(machine: Machine, severity: float, which: int) -> Machine:
    """No damper of the set grips any more: neither friction (N) nor what grows with speed."""
    # beyond what worn linings leave: a tub that is held by its springs alone
    del which
    for i in range(len(machine.dampers)):
        machine = _damper(machine, i, 1.0 - severity)
    return machine


def spring_off(machine: Machine, severity: float, which: int) -> Machine:
    """One spring gone; the tub sags to a new equilibrium, against the stop if need be."""
    # a spring is on or off: short of that it can only be weak
    if severity < 1.0:
        return spring_tired(machine, severity, which)
    return replace(machine, springs=tuple(s for i, s in enumerate(machine.springs) if i != which))


def spring_tired(machine: Machine, severity: float, which: int) -> Machine:
    """One spring at 55 % of its stiffness in N/m."""

    def soft(s: Spring) -> Spring:
        return replace(s, stiffness_n_m=s.stiffness_n_m * (1.0 - 0.45 * severity))

    return replace(
        machine, springs=tuple(soft(s) if i == which else s for i, s in enumerate(machine.springs))
    )


def counterweight_lost(machine: Machine, severity: float, which: int) -> Machine:
    """One counterweight broken off; below severity 1 only that share of its kg."""
    left = tuple(
        replace(w, mass_kg=w.mass_kg * (1.0 - severity)) if i == which else w
        for i, w in enumerate(machine.tub.weights)
    )
    # a weight of nothing would still be looked at as a part that can come loose
    return replace(
        machine, tub=replace(machine.tub, weights=tuple(w for w in left if w.mass_kg > 0.0))
    )


def counterweight_loose(machine: Machine, severity: float, which: int) -> Machine:
    """One counterweight knocks in its seat, 1.5 mm each way."""
    loose = tuple(
        replace(w, gap_m=0.0015 * severity) if i == which else w
        for i, w in enumerate(machine.tub.weights)
    )
    return replace(machine, tub=replace(machine.tub, weights=loose))


def drum_support_cracked(machine: Machine, severity: float, which: int) -> Machine:
    """One arm of the drum support gone: a quarter as stiff one way, with 6 mrad of play."""
    del which
    # without a hub the drum sits rigid, and a sound machine has to stay one
    if severity <= 0.0:
        return machine
    hub = replace(
        machine.hub,
        stiffness_n_m_rad=SUPPORT_N_M_RAD,
        weak_n_m_rad=SUPPORT_N_M_RAD * (1.0 - 0.75 * severity),
        weak_play_rad=0.006 * severity,
    )
    return replace(machine, hub=hub)


def bearing_worn(machine: Machine, severity: float, which: int) -> Machine:
    """3 mrad of play all round between drum and tub, and a rumble (N) that grows with speed."""
    del which
    if severity <= 0.0:
        return machine
    hub = replace(
        machine.hub,
        stiffness_n_m_rad=machine.hub.stiffness_n_m_rad or SUPPORT_N_M_RAD,
        bearing_play_rad=0.003 * severity,
    )
    return replace(machine, hub=hub, bearing=Bearing(80.0 * severity, 150.0 * severity))


def transit_bolts(machine: Machine, severity: float, which: int) -> Machine:
    """Transit bolts left in: four ties of 2e5 N/m each at the rear of the tub."""
    del which
    if severity <= 0.0:
        return machine
    x, y, z = machine.drum.hub_m
    # in a square round the bearing, at the rear panel
    places = tuple(
        (x + sx * 0.16, y + 0.07, z + sz * 0.16) for sx in (-1.0, 1.0) for sz in (-1.0, 1.0)
    )
    return replace(machine, bolts=Bolts(places, 2e5 * severity, 120.0))


def short_foot(machine: Machine, severity: float, which: int) -> Machine:
    """One foot 3 mm short: the machine stands on three and rocks."""
    # shorter by the severity, so that half of it is a foot 1.5 mm short
    front_left, front_right, rear_left, rear_right = (
        replace(f, length_m=f.length_m - 0.003 * severity) if i == which else f
        for i, f in enumerate(machine.feet)
    )
    return replace(machine, feet=(front_left, front_right, rear_left, rear_right))


def soft_floor(machine: Machine, severity: float, which: int) -> Machine:
    """A floor that gives: 120 kg moving along at 12 Hz, 4 % damping; stiffer below severity 1."""
    del which
    # no severity: no floor that moves, or it would be infinitely stiff
    if severity <= 0.0:
        return machine
    moving = 120.0
    stiffness = moving * (2 * np.pi * 12.0) ** 2 / severity
    return replace(
        machine,
        floor=Floor(moving, stiffness, 2 * 0.04 * np.sqrt(stiffness * moving), machine.floor.slope),
    )


def not_level(machine: Machine, severity: float, which: int) -> Machine:
    """The floor slopes by 2 degrees, to the right and to the front."""
    del which
    # the fall is along the diagonal, so each side takes its share
    rise = float(np.tan(radians(2.0 * severity))) / np.sqrt(2.0)
    return replace(machine, floor=replace(machine.floor, slope=(-rise, rise)))


def heavy_load(machine: Machine, severity: float, which: int) -> Machine:
    """One heavy thing that will not spread: 1.5 kg out of balance on the drum wall."""
    del which
    drum = machine.drum
    # beside whatever is out of balance already
    lump = Unbalance(1.5 * severity, drum.radius_m, 0.5 * drum.depth_m)
    return replace(machine, load=replace(machine.load, unbalances=(*machine.load.unbalances, lump)))


def overload(machine: Machine, severity: float, which: int) -> Machine:
    """Ten kilograms of wet laundry more than usual, evenly spread."""
    del which
    # heavier, so it swings slower and less; it is the stops and springs that suffer
    return replace(
        machine, load=replace(machine.load, mass_kg=machine.load.mass_kg + 10.0 * severity)
    )


def slippery_floor(machine: Machine, severity: float, which: int) -> Machine:
    """Wet or polished floor: friction falls from what it was to 0.2."""
    del which
    # all four feet: it is the floor, not a foot
    front_left, front_right, rear_left, rear_right = (
        replace(f, friction=f.friction + severity * (0.2 - f.friction)) for f in machine.feet
    )
    return replace(machine, feet=(front_left, front_right, rear_left, rear_right))


def bellows_torn(machine: Machine, severity: float, which: int) -> Machine:
    """The door bellows no longer holds the tub."""

    def slack(values: tuple[float, float, float]) -> tuple[float, float, float]:
        a, b, c = (v * (1.0 - severity) for v in values)
        return a, b, c

    torn = tuple(
        replace(b, stiffness_n_m=slack(b.stiffness_n_m), damping_n_s_m=slack(b.damping_n_s_m))
        if i == which
        else b
        for i, b in enumerate(machine.bellows)
    )
    return replace(machine, bellows=torn)


def ring_empty(machine: Machine, severity: float, which: int) -> Machine:
    """The liquid balance ring has lost its filling, by the share of its kg."""
    # an empty ring weighs next to nothing less; what it loses is its work
    del which
    return replace(
        machine, ring=replace(machine.ring, added_kg=machine.ring.added_kg * (1.0 - severity))
    )


def two_dampers_dead(machine: Machine, severity: float, which: int) -> Machine:
    """The first two dampers without friction."""
    del which
    return _damper(_damper(machine, 0, 1.0 - severity), 1, 1.0 - severity)
