"""Every fault with a mechanical meaning: key, words, and the change of the machine.

``with_fault(machine, key, severity)``: severity 0 is sound, 1 the gross form found at the bench;
``which`` picks the part where there are several.
"""

from collections.abc import Callable
from dataclasses import dataclass

from counterpoise.dynamics.machines import fault_changes as change
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.errors import InputError

Change = Callable[[Machine, float, int], Machine]


@dataclass(frozen=True)
class MechanicalFault:
    """Key, plain words, the change, and how many places it can be in (0: one only)."""

    key: str
    words: str
    change: Change
    parts: Callable[[Machine], int] = lambda _: 0


# The keys stand in the catalog (``twin:`` of a fault) and in docs/dynamics.md.
FAULTS = {
    f.key: f
    for f in (
        MechanicalFault(
            "damper_dead", "one damper without grip", change.damper_dead, lambda m: len(m.dampers)
        ),
        MechanicalFault("two_dampers_dead", "two dampers without grip", change.two_dampers_dead),
        MechanicalFault("damper_weak", "all dampers worn", change.damper_weak),
        MechanicalFault("dampers_gone", "no grip left in any damper", change.dampers_gone),
        MechanicalFault(
            "spring_off", "one spring off", change.spring_off, lambda m: len(m.springs)
        ),
        MechanicalFault(
            "spring_tired", "one spring tired", change.spring_tired, lambda m: len(m.springs)
        ),
        MechanicalFault(
            "counterweight_lost",
            "a counterweight lost",
            change.counterweight_lost,
            lambda m: len(m.tub.weights),
        ),
        MechanicalFault(
            "counterweight_loose",
            "a counterweight loose",
            change.counterweight_loose,
            lambda m: len(m.tub.weights),
        ),
        MechanicalFault(
            "drum_support_cracked", "drum support cracked", change.drum_support_cracked
        ),
        MechanicalFault("bearing_worn", "drum bearing worn", change.bearing_worn),
        MechanicalFault("transit_bolts", "transit bolts left in", change.transit_bolts),
        MechanicalFault("short_foot", "one foot short", change.short_foot, lambda m: len(m.feet)),
        MechanicalFault("soft_floor", "floor gives", change.soft_floor),
        MechanicalFault("slippery_floor", "floor slippery", change.slippery_floor),
        MechanicalFault("not_level", "machine not level", change.not_level),
        MechanicalFault("heavy_load", "one heavy thing in the drum", change.heavy_load),
        MechanicalFault("overload", "drum overfilled", change.overload),
        MechanicalFault(
            "bellows_torn", "door bellows torn", change.bellows_torn, lambda m: len(m.bellows)
        ),
        MechanicalFault("ring_empty", "balance ring empty", change.ring_empty),
    )
}


def with_fault(machine: Machine, key: str, severity: float = 1.0, which: int = 0) -> Machine:
    """The machine with one fault (more faults: call again).

    Raises InputError for an unknown key, a severity outside 0 to 1, or a part it does not have.
    """
    if key not in FAULTS:
        raise InputError(
            f"no mechanical fault {key!r}", field="fault", remedy=f"one of {', '.join(FAULTS)}"
        )
    # also refuses what is no number
    if not 0.0 <= severity <= 1.0:
        raise InputError(
            f"a severity of {severity:g}",
            field="severity",
            remedy="0 (sound) to 1 (gross) is valid",
        )
    # which of several springs, feet, dampers
    fault = FAULTS[key]
    parts = fault.parts(machine)
    # part 0 of a fault that has no parts is the fault itself
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
    # how many of the part there must be more than none of; what is not listed every machine has
    needed = {
        "counterweight_lost": len(machine.tub.weights),
        "counterweight_loose": len(machine.tub.weights),
        "two_dampers_dead": len(machine.dampers) - 1,
        "bellows_torn": len(machine.bellows),
        "ring_empty": machine.ring.added_kg,
    }
    return needed.get(key, 1) > 0
