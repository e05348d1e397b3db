"""Machine families: what a machine of the kind looks like when nothing more is known, and how far it may differ.

Every value carries its range and where it is from. ``build`` makes a machine of given values, ``draw`` a random one
within the ranges.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from counterpoise.dynamics.machines.front_loader import FRONT_LOADER, front_loader
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.machines.top_loader import TOP_LOADER, top_loader
from counterpoise.dynamics.machines.value import Value
from counterpoise.errors import InputError


@dataclass(frozen=True)
class Family:
    """A family's values by name."""

    key: str
    values: Mapping[str, Value]


FAMILIES = {
    "front_loader": Family("front_loader", FRONT_LOADER),
    "top_loader": Family("top_loader", TOP_LOADER),
}
BUILDERS = {"front_loader": front_loader, "top_loader": top_loader}


def family(key: str) -> Family:
    """The family of that key; InputError lists those there are."""
    if key not in FAMILIES:
        raise InputError(
            f"no machine family {key!r} in the model",
            field="family",
            remedy=f"one of {', '.join(FAMILIES)}",
        )
    return FAMILIES[key]


def build(key: str, given: Mapping[str, float] | None = None) -> Machine:
    """A machine of the family's defaults with the given values instead; InputError outside a value's range."""
    values = {name: value.default for name, value in family(key).values.items()}
    for name, number in (given or {}).items():
        if name not in values:
            raise InputError(
                f"{key} has no value {name!r}", field=name, remedy=f"one of {', '.join(values)}"
            )
        value = family(key).values[name]
        if not value.low <= number <= value.high:
            raise InputError(
                f"{name} is {number:g} {value.unit}",
                field=name,
                remedy=f"{value.low:g} to {value.high:g} is valid ({value.source})",
            )
        values[name] = number
    return BUILDERS[key](values)


def shared_out(key: str, total_kg: float, given: Mapping[str, float]) -> dict[str, float]:
    """What hangs and what stands of a machine of ``total_kg``, shared as in the family unless one of them is given.

    Raises InputError where the sum cannot be.
    """
    hangs, stands = family(key).values["oscillating_kg"], family(key).values["cabinet_kg"]
    low, high = given.get("oscillating_kg", hangs.low), given.get("oscillating_kg", hangs.high)
    light, heavy = given.get("cabinet_kg", stands.low), given.get("cabinet_kg", stands.high)
    if not low + light - 1e-9 <= total_kg <= high + heavy + 1e-9:
        raise InputError(
            f"a machine of {total_kg:g} kg in all",
            field="machine_kg",
            remedy=f"with what else is known of it, {low + light:g} to {high + heavy:g} kg is valid",
        )
    usual = hangs.default / (hangs.default + stands.default)
    hanging = min(max(usual * total_kg, low, total_kg - heavy), high, total_kg - light)
    return {"oscillating_kg": hanging, "cabinet_kg": total_kg - hanging}


def draw(key: str, rng: np.random.Generator, given: Mapping[str, float] | None = None) -> Machine:
    """A random machine of the family: every value not given is uniform within its range."""
    drawn = {
        name: float(rng.uniform(v.low, v.high)) for name, v in family(key).values.items() if v.drawn
    }
    drawn = {
        name: float(round(x)) if family(key).values[name].whole else x for name, x in drawn.items()
    }
    return build(key, drawn | dict(given or {}))
