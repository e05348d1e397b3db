"""The machines and loads of the table: drawn within the ranges of their kind, by number."""

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.dynamics.effects.quantities import climb, measure, thinned
from counterpoise.dynamics.effects.states import COUNTED, LOADS, STATES, fault_key
from counterpoise.dynamics.machines.families import draw
from counterpoise.dynamics.machines.faults import FAULTS, applies, with_fault
from counterpoise.dynamics.machines.machine import Load, Machine
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

SEED = 2031
# Programmes to choose from, rpm (common practice).
TOP_RPM = {"front_loader": (1000.0, 1200.0, 1400.0), "top_loader": (700.0, 800.0, 900.0)}
# Wet laundry that lies evenly beside what does not, kg (estimate).
MOST_LAUNDRY_KG = 6.0
# Fewer samples than the end that is read: the machine never came to spin.
LEAST_S = 5.0


@dataclass(frozen=True)
class Drawn:
    """A machine in good order with its load, the class of that load, and its number."""

    number: int
    load: str
    machine: Machine


def drawn(family: str, number: int, dampers: int | None = None) -> Drawn:
    """The machine of that number, the loads taking turns; the same number gives the same.

    ``dampers``: how many it has; None: as drawn.
    """
    rng = np.random.default_rng([SEED, number])
    machine = draw(family, rng, {"dampers": float(dampers)} if dampers else None)
    load = tuple(LOADS)[number % len(LOADS)]
    kg = float(rng.uniform(LOADS[load].low_kg, LOADS[load].high_kg))
    machine = replace(
        machine,
        top_rpm=float(rng.choice(TOP_RPM[family])),
        load=Load(float(rng.uniform(0.0, MOST_LAUNDRY_KG))),
    ).with_unbalance(kg, float(rng.uniform(0.1, 0.9)), laundry=False)
    return Drawn(number, load, machine)


def faulty(case: Drawn, state: str) -> Machine:
    """The drawn machine in a state, which of several parts being drawn too. Raises InputError."""
    key, _, severity = state.partition(":")
    parts = FAULTS[key].parts(case.machine)
    rng = np.random.default_rng([SEED, case.number, STATES.index(state)])
    which = int(rng.integers(parts)) if parts else 0
    return with_fault(case.machine, key, float(severity or 1.0), which)


def measured(machine: Machine) -> dict[str, float] | None:
    """The quantities of a machine; None where it breaks off at once or finds no rest."""
    try:
        fine = climb(machine, Phone())
        if fine.t_s[-1] < LEAST_S:
            return None
        return measure(machine, fine, thinned(fine)) | {"complete": float(fine.complete)}
    except InputError:
        # a spring off can leave a light tub without any rest
        return None


def measured_states(
    family: str, number: int, dampers: int | None = None
) -> dict[str, dict[str, float] | None]:
    """Quantities by state, the sound machine under ``sound``; of a given count only what it counts.

    Empty where the sound machine does not come to top speed: it is no machine in good order.
    """
    case = drawn(family, number, dampers)
    sound = measured(case.machine)
    if sound is None or not sound["complete"]:
        return {}
    wanted = COUNTED if dampers else STATES
    states = [state for state in wanted if applies(case.machine, fault_key(state))]
    return {"sound": sound} | {state: measured(faulty(case, state)) for state in states}
