"""Machine families: what a machine of the kind looks like when nothing more is known.

Every value carries its range and where it is from. ``build`` makes a machine of given values,
``draw`` a random one within the ranges.
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
    """A family's values by name; ``title`` is what such a machine is called."""

    key: str
    title: str
    values: Mapping[str, Value]


FAMILIES = {
    "front_loader": Family("front_loader", "Front loader", FRONT_LOADER),
    "top_loader": Family("top_loader", "Top loader", TOP_LOADER),
}
# A family is its values and the function that makes a machine of them.
BUILDERS = {"front_loader": front_loader, "top_loader": top_loader}


def family(key: str) -> Family:
    """The family of that key. Raises InputError that lists those there are."""
    if key not in FAMILIES:
        raise InputError(
            f"no machine family {key!r} in the model",
            field="family",
            remedy=f"one of {', '.join(FAMILIES)}",
        )
    return FAMILIES[key]


def build(key: str, given: Mapping[str, float] | None = None) -> Machine:
    """A machine of the family's defaults with the given values (SI) instead.

    Raises InputError for an unknown name, a value outside its range, or pieces that are not whole.
    """
    known = family(key).values
    values = {name: value.default for name, value in known.items()}
    for name, number in (given or {}).items():
        if name not in known:
            raise InputError(
                f"{key} has no value {name!r}", field=name, remedy=f"one of {', '.join(values)}"
            )
        values[name] = allowed(name, known[name], number)
    return BUILDERS[key](values)


def allowed(name: str, value: Value, number: float, words: str = "") -> float:
    """``number`` where the value can have it; ``words`` are what a person calls it.

    Raises InputError that tells what is valid.
    """
    # written so that a number that is none (nan) fails too
    if not value.low <= number <= value.high:
        raise InputError(
            f"{words or name} is {number:g} {value.unit}".rstrip(),
            field=name,
            remedy=f"{value.low:g} to {value.high:g} is valid ({value.source})",
        )
    # Half a damper would be rounded and nobody would know to which side.
    if value.whole and number != round(number):
        raise InputError(
            f"{words or name} is {number:g} {value.unit}".rstrip(),
            field=name,
            remedy=f"Give a whole number from {value.low:g} to {value.high:g}",
        )
    return number


def shared_out(key: str, total_kg: float, given: Mapping[str, float]) -> dict[str, float]:
    """What hangs and what stands (kg) of a machine of ``total_kg``, shared as in the family.

    Where one of the two is given, the other is the rest. Raises InputError where the sum cannot be.
    """
    hangs, stands = family(key).values["oscillating_kg"], family(key).values["cabinet_kg"]
    low, high = given.get("oscillating_kg", hangs.low), given.get("oscillating_kg", hangs.high)
    light, heavy = given.get("cabinet_kg", stands.low), given.get("cabinet_kg", stands.high)
    # a part in 1e9 for rounding, where both are given and are just the sum
    if not low + light - 1e-9 <= total_kg <= high + heavy + 1e-9:
        raise InputError(
            f"a machine of {total_kg:g} kg in all",
            field="machine_kg",
            remedy=f"with what else is known of it, {low + light:g} to {high + heavy:g} kg "
            "is valid",
        )
    usual = hangs.default / (hangs.default + stands.default)
    # neither may leave its own range, so the other takes what is left over
    hanging = min(max(usual * total_kg, low, total_kg - heavy), high, total_kg - light)
    return {"oscillating_kg": hanging, "cabinet_kg": total_kg - hanging}


def draw(key: str, rng: np.random.Generator, given: Mapping[str, float] | None = None) -> Machine:
    """A random machine of the family: every value not given is uniform within its range."""
    # All are drawn even where some are given, so that the same seed gives the same others.
    drawn = {
        name: float(rng.uniform(v.low, v.high)) for name, v in family(key).values.items() if v.drawn
    }
    drawn = {
        name: float(round(x)) if family(key).values[name].whole else x for name, x in drawn.items()
    }
    return build(key, drawn | dict(given or {}))
