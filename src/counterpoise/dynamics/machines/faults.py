"""Every fault with a mechanical meaning as a change of the machine.

``with_fault(machine, key, severity)``: severity 0 is sound, 1 the gross form found at the bench; ``which`` picks the
part where there are several. Sizes at severity 1 are estimates unless a source is named.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
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
from counterpoise.errors import InputError

Change = Callable[[Machine, float, int], Machine]


@dataclass(frozen=True)
class MechanicalFault:
    """Key, plain words, how many places it can be in (0: one only) and the change it works."""

    key: str
    words: str
    change: Change
    parts: Callable[[Machine], int] = lambda _: 0


def _damper(machine: Machine, which: int, share: float) -> Machine:
    def faded(d: Damper) -> Damper:
        return replace(d, friction_n=d.friction_n * share, viscous_n_s_m=d.viscous_n_s_m * share)

    return replace(
        machine, dampers=tuple(faded(d) if i == which else d for i, d in enumerate(machine.dampers))
    )


def damper_dead(machine: Machine, severity: float, which: int) -> Machine:
    """One damper without friction (a separated or worn-out one)."""
    return _damper(machine, which, 1.0 - severity)


def damper_weak(machine: Machine, severity: float, which: int) -> Machine:
    """The whole set worn: down to 35 % of its friction."""
    del which
    for i in range(len(machine.dampers)):
        machine = _damper(machine, i, 1.0 - 0.65 * severity)
    return machine


def spring_off(machine: Machine, severity: float, which: int) -> Machine:
    """One spring gone; the tub sags to a new equilibrium, against the stop if need be."""
    if severity < 1.0:
        return spring_tired(machine, severity, which)
    return replace(machine, springs=tuple(s for i, s in enumerate(machine.springs) if i != which))


def spring_tired(machine: Machine, severity: float, which: int) -> Machine:
    """One spring at 55 % of its stiffness."""

    def soft(s: Spring) -> Spring:
        return replace(s, stiffness_n_m=s.stiffness_n_m * (1.0 - 0.45 * severity))

    return replace(
        machine, springs=tuple(soft(s) if i == which else s for i, s in enumerate(machine.springs))
    )


def counterweight_lost(machine: Machine, severity: float, which: int) -> Machine:
    """One counterweight broken off; below severity 1 only part of it."""
    left = tuple(
        replace(w, mass_kg=w.mass_kg * (1.0 - severity)) if i == which else w
        for i, w in enumerate(machine.tub.weights)
    )
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
    """One arm of the drum support gone: weak and slack in one direction that turns with the drum."""
    del which
    if severity <= 0.0:
        return machine
    hub = replace(
        machine.hub,
        stiffness_n_m_rad=9e4,
        weak_n_m_rad=9e4 * (1.0 - 0.75 * severity),
        weak_play_rad=0.006 * severity,
    )
    return replace(machine, hub=hub)


def bearing_worn(machine: Machine, severity: float, which: int) -> Machine:
    """Play all round between drum and tub, and a rumble that grows with speed."""
    del which
    if severity <= 0.0:
        return machine
    hub = replace(
        machine.hub,
        stiffness_n_m_rad=machine.hub.stiffness_n_m_rad or 9e4,
        bearing_play_rad=0.003 * severity,
    )
    return replace(machine, hub=hub, bearing=Bearing(80.0 * severity, 150.0 * severity))


def transit_bolts(machine: Machine, severity: float, which: int) -> Machine:
    """Transit bolts left in: four stiff ties at the rear of the tub."""
    del which
    if severity <= 0.0:
        return machine
    x, y, z = machine.drum.hub_m
    places = tuple(
        (x + sx * 0.16, y + 0.07, z + sz * 0.16) for sx in (-1.0, 1.0) for sz in (-1.0, 1.0)
    )
    return replace(machine, bolts=Bolts(places, 2e5 * severity, 120.0))


def short_foot(machine: Machine, severity: float, which: int) -> Machine:
    """One foot 3 mm short: the machine stands on three and rocks."""
    one, two, three, four = (
        replace(f, length_m=f.length_m - 0.003 * severity) if i == which else f
        for i, f in enumerate(machine.feet)
    )
    return replace(machine, feet=(one, two, three, four))


def soft_floor(machine: Machine, severity: float, which: int) -> Machine:
    """A floor that gives: 120 kg moving along, tuned to 12 Hz with the machine on it, 4 % damping.

    Stiffer below severity 1.
    """
    del which
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
    rise = float(np.tan(radians(2.0 * severity))) / np.sqrt(2.0)
    return replace(machine, floor=replace(machine.floor, slope=(-rise, rise)))


def heavy_load(machine: Machine, severity: float, which: int) -> Machine:
    """One heavy thing that will not spread: 1.5 kg out of balance on the drum wall."""
    del which
    drum = machine.drum
    lump = Unbalance(1.5 * severity, drum.radius_m, 0.5 * drum.depth_m)
    return replace(machine, load=replace(machine.load, unbalances=(*machine.load.unbalances, lump)))


def overload(machine: Machine, severity: float, which: int) -> Machine:
    """Ten kilograms of wet laundry more than usual, evenly spread."""
    del which
    return replace(
        machine, load=replace(machine.load, mass_kg=machine.load.mass_kg + 10.0 * severity)
    )


def slippery_floor(machine: Machine, severity: float, which: int) -> Machine:
    """Wet or polished floor: friction falls from what it was to 0.2."""
    del which
    one, two, three, four = (
        replace(f, friction=f.friction + severity * (0.2 - f.friction)) for f in machine.feet
    )
    return replace(machine, feet=(one, two, three, four))


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
    """The liquid balance ring has lost its filling."""
    del which
    return replace(
        machine, ring=replace(machine.ring, added_kg=machine.ring.added_kg * (1.0 - severity))
    )


def two_dampers_dead(machine: Machine, severity: float, which: int) -> Machine:
    """The first two dampers without friction."""
    del which
    return _damper(_damper(machine, 0, 1.0 - severity), 1, 1.0 - severity)


FAULTS = {
    f.key: f
    for f in (
        MechanicalFault(
            "damper_dead", "one damper without grip", damper_dead, lambda m: len(m.dampers)
        ),
        MechanicalFault("two_dampers_dead", "two dampers without grip", two_dampers_dead),
        MechanicalFault("damper_weak", "all dampers worn", damper_weak),
        MechanicalFault("spring_off", "one spring off", spring_off, lambda m: len(m.springs)),
        MechanicalFault("spring_tired", "one spring tired", spring_tired, lambda m: len(m.springs)),
        MechanicalFault(
            "counterweight_lost",
            "a counterweight lost",
            counterweight_lost,
            lambda m: len(m.tub.weights),
        ),
        MechanicalFault(
            "counterweight_loose",
            "a counterweight loose",
            counterweight_loose,
            lambda m: len(m.tub.weights),
        ),
        MechanicalFault("drum_support_cracked", "drum support cracked", drum_support_cracked),
        MechanicalFault("bearing_worn", "drum bearing worn", bearing_worn),
        MechanicalFault("transit_bolts", "transit bolts left in", transit_bolts),
        MechanicalFault("short_foot", "one foot short", short_foot, lambda m: len(m.feet)),
        MechanicalFault("soft_floor", "floor gives", soft_floor),
        MechanicalFault("slippery_floor", "floor slippery", slippery_floor),
        MechanicalFault("not_level", "machine not level", not_level),
        MechanicalFault("heavy_load", "one heavy thing in the drum", heavy_load),
        MechanicalFault("overload", "drum overfilled", overload),
        MechanicalFault(
            "bellows_torn", "door bellows torn", bellows_torn, lambda m: len(m.bellows)
        ),
        MechanicalFault("ring_empty", "balance ring empty", ring_empty),
    )
}


def with_fault(machine: Machine, key: str, severity: float = 1.0, which: int = 0) -> Machine:
    """The machine with one fault (more faults: call again). Raises InputError for an unknown key, severity or part."""
    if key not in FAULTS:
        raise InputError(
            f"no mechanical fault {key!r}", field="fault", remedy=f"one of {', '.join(FAULTS)}"
        )
    if not 0.0 <= severity <= 1.0:
        raise InputError(
            f"a severity of {severity:g}",
            field="severity",
            remedy="0 (sound) to 1 (gross) is valid",
        )
    fault = FAULTS[key]
    parts = fault.parts(machine)
    if which and not 0 <= which < parts:
        raise InputError(
            f"no part {which} for {key} on this machine",
            field="which",
            remedy=f"0 to {max(parts - 1, 0)} is valid",
        )
    if applies(machine, key):
        return fault.change(machine, severity, which)
    raise InputError(
        f"this machine cannot have {key}: it has no such part",
        field="fault",
        remedy="choose another fault",
    )


def applies(machine: Machine, key: str) -> bool:
    """Whether the machine has the part that the fault needs."""
    needed = {
        "counterweight_lost": len(machine.tub.weights),
        "counterweight_loose": len(machine.tub.weights),
        "two_dampers_dead": len(machine.dampers) - 1,
        "bellows_torn": len(machine.bellows),
        "ring_empty": machine.ring.added_kg,
    }
    return needed.get(key, 1) > 0
