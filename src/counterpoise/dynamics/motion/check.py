"""Refuse nonsense before it is simulated: what is wrong, where, and what would be valid."""

from dataclasses import fields, is_dataclass
from itertools import pairwise

import numpy as np

from counterpoise.dynamics.machines.machine import Machine, Spring, Unbalance
from counterpoise.dynamics.motion.run import Run
from counterpoise.errors import InputError

# Above this drum and panels bend on a real machine; here they are rigid.
TOP_RPM = 2000.0
# A damper's bushing has its place in the friction memory: ``kernels.layout.BUSHINGS`` of them.
MOST_DAMPERS = 8
# Lowest and highest by the end of a field's name, both allowed. Wide on purpose: they catch a
# wrong unit, not an unusual machine.
LIMITS = {
    "mass_kg": (0.0, 300.0),
    "stiffness_n_m": (0.0, 5e6),
    "damping_n_s_m": (0.0, 2e4),
    "friction_n": (0.0, 1000.0),
    "viscous_n_s_m": (0.0, 5000.0),
    "friction": (0.0, 2.0),
    "gap_m": (0.0, 0.02),
    "length_m": (-0.05, 0.6),
    "top_rpm": (1.0, TOP_RPM),
}
# What the equations divide by; other masses and lengths may be nothing.
MUST_BE_ABOVE_ZERO = (
    "cabinet.mass_kg",
    "tub.mass_kg",
    "drum.mass_kg",
    "drum.radius_m",
    "drum.depth_m",
    "drum.spin_inertia_kg_m2",
    "drum.cross_inertia_kg_m2",
    "stops.side_m",
    "stops.down_m",
    "stops.up_m",
    "stops.along_m",
)


def numbers(part: object, path: str = "") -> list[tuple[str, float]]:
    """Every number of a machine with the path to it, like ``feet[2].length_m``; [] for a word."""
    if is_dataclass(part):
        return [
            n
            for f in fields(part)
            for n in numbers(getattr(part, f.name), f"{path}.{f.name}" if path else f.name)
        ]
    if isinstance(part, tuple):
        return [n for i, p in enumerate(part) for n in numbers(p, f"{path}[{i}]")]
    # True is an int in Python, but no measure
    if isinstance(part, int | float) and not isinstance(part, bool):
        return [(path, float(part))]
    return []


def check_number(path: str, value: float) -> None:
    """One number against the limits of its kind. Raises InputError naming the path."""
    if not np.isfinite(value):
        raise InputError(f"{path} is {value}", field=path, remedy="give a number")
    if path in MUST_BE_ABOVE_ZERO and value <= 0.0:
        raise InputError(
            f"{path} is {value:g}; it must be above zero",
            field=path,
            remedy="above 0 to 300 is valid"
            if path.endswith("mass_kg")
            else "give a positive number",
        )
    # feet[2].friction and damper friction_n are looked up by the last word, without the place
    low, high = LIMITS.get(
        path.rsplit(".", maxsplit=1)[-1].split("[", maxsplit=1)[0], (-1e12, 1e12)
    )
    if not low <= value <= high:
        raise InputError(
            f"{path} is {value:g}", field=path, remedy=f"the model holds from {low:g} to {high:g}"
        )


def check_inertia(path: str, inertia: tuple[float, float, float]) -> None:
    """A body's inertias (kg m2) are positive, none above the sum of the others, else InputError."""
    a, b, c = sorted(inertia)
    # A flat plate has just the sum; the part in 1e9 is for rounding.
    if a <= 0.0 or a + b < c * (1.0 - 1e-9):
        raise InputError(
            f"{path} is {inertia}: no body has it",
            field=path,
            remedy="each must be positive and none larger than the sum of the two others",
        )


def check_spring(spring: Spring) -> None:
    """Longer than its coils pressed together, free and as hung (m). Raises InputError."""
    # a spring that starts solid would be a rod, and the model has none
    length = float(np.linalg.norm(np.subtract(spring.tub_m, spring.cabinet_m)))
    shortest = min(length, spring.free_length_m)
    if shortest <= spring.solid_length_m:
        raise InputError(
            f"spring {spring.name} is {shortest:.3f} m long but solid at "
            f"{spring.solid_length_m:.3f} m",
            field="springs",
            remedy="free length and distance of its nodes must be above "
            f"{spring.solid_length_m:.3f} m",
        )


def check_unbalance(machine: Machine, u: Unbalance) -> None:
    """An unbalance lies inside the drum, with a little room for measuring. Raises InputError."""
    drum = machine.drum
    if not 0.0 <= u.radius_m <= 1.05 * drum.radius_m:
        raise InputError(
            f"the unbalance sits {u.radius_m:g} m off the axis",
            field="load.unbalances",
            remedy=f"the drum reaches from 0 to {drum.radius_m:g} m",
        )
    if not 0.0 <= u.depth_m <= 1.2 * drum.depth_m:
        raise InputError(
            f"the unbalance sits {u.depth_m:g} m from the hub",
            field="load.unbalances",
            remedy=f"the drum reaches from 0 to {drum.depth_m:g} m",
        )


def check(machine: Machine) -> None:
    """Raise InputError for the first thing that cannot be."""
    # first of all that everything is a number: the checks below compare
    for path, value in numbers(machine):
        check_number(path, value)
    check_inertia("cabinet.inertia_kg_m2", machine.cabinet.inertia_kg_m2)
    check_inertia("tub.inertia_kg_m2", machine.tub.inertia_kg_m2)
    if not machine.springs:
        raise InputError("the tub hangs on no spring", field="springs", remedy="leave at least one")
    if len(machine.dampers) > MOST_DAMPERS:
        raise InputError(
            f"{len(machine.dampers)} dampers",
            field="dampers",
            remedy=f"the model holds up to {MOST_DAMPERS}",
        )
    for spring in machine.springs:
        check_spring(spring)
    for damper in machine.dampers:
        # a strut works along its line, so it needs one
        if np.linalg.norm(np.subtract(damper.tub_m, damper.cabinet_m)) < 0.01:
            raise InputError(
                f"damper {damper.name} has no length",
                field="dampers",
                remedy="set its two nodes at least 0.01 m apart",
            )
    for u in machine.load.unbalances:
        check_unbalance(machine, u)


def check_run(machine: Machine, run: Run, sample_rate_hz: float) -> None:
    """Raise InputError for a profile or sample rate that the model does not hold for."""
    if not 10.0 <= sample_rate_hz <= 4000.0:
        raise InputError(
            f"a sample rate of {sample_rate_hz:g} Hz",
            field="sample_rate_hz",
            remedy="10 to 4000 Hz is valid",
        )
    points = run.profile.points
    if len(points) < 2 or any(b[0] <= a[0] for a, b in pairwise(points)):
        raise InputError(
            "the speed profile needs two points or more with rising times",
            field="profile",
            remedy="sort the points by time",
        )
    worst = max(points, key=lambda p: p[1])[1]
    if worst > TOP_RPM or min(p[1] for p in points) < 0.0:
        raise InputError(
            f"a speed of {worst:g} rpm is beyond the model: drum and panels bend there, "
            "here they are rigid",
            field="profile",
            remedy=f"0 to {TOP_RPM:g} rpm is valid",
        )
    # an hour: longer is a slip of the unit, and would fill the memory with samples
    if points[-1][0] > 3600.0:
        raise InputError(
            f"a run of {points[-1][0]:g} s", field="profile", remedy="up to 3600 s is valid"
        )
    # from the middle of the panel
    half = np.array(machine.cabinet.size_m) / 2
    if abs(run.phone.x_m) > half[0] or abs(run.phone.y_m) > half[1]:
        raise InputError(
            "the phone lies beside the top panel",
            field="phone",
            remedy=f"within {half[0]:g} m and {half[1]:g} m of its middle",
        )
