"""What drives the drum: the speed the controller really lets it reach, and the laundry that tumbles below that."""

from math import pi

import numpy as np

from counterpoise.dynamics.kernels.forces import GRAVITY
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.pack import RPM, Floats, drum_axes, joined, turning_parts
from counterpoise.dynamics.motion.run import Controller, Run

IMPACT_S = 0.05


def clinging_rpm(machine: Machine) -> float:
    """Speed at which laundry clings to the drum wall: omega^2 R = g."""
    return float(np.sqrt(GRAVITY / machine.drum.radius_m) / RPM)


def static_unbalance_kg_m(machine: Machine) -> float:
    """Size of the vector sum of m r."""
    return float(
        abs(sum(u.mass_kg * u.radius_m * np.exp(1j * u.angle_rad) for u in machine.load.unbalances))
    )


def ripple(machine: Machine, rpm: float) -> float:
    """Share of the speed by which gravity makes an unbalanced drum rise and fall once a turn.

    Motor torque held constant.
    """
    axes = drum_axes(machine)
    spin = float(axes[2] @ joined(turning_parts(machine)).inertia_kg_m2 @ axes[2])
    across = float(np.hypot(axes[2, 0], axes[2, 1]))
    return static_unbalance_kg_m(machine) * GRAVITY * across / (spin * (rpm * RPM) ** 2)


def distribution(points: list[tuple[float, float]], limit_rpm: float) -> int:
    """How many points come before the first climb above the distribution speed."""
    for i, (_, rpm) in enumerate(points):
        if rpm > limit_rpm:
            return i
    return len(points)


def given_up(
    points: list[tuple[float, float]], first: int, control: Controller
) -> list[tuple[float, float]]:
    """Tumble and distribute again and again, then stop."""
    out, start = [], 0.0
    for _ in range(control.attempts):
        out += [(start + t, rpm) for t, rpm in points[:first]]
        start = out[-1][0] + 3.0
        out.append((start, 0.0))
        start += 0.5
    return [*out, (start, 0.0)]


def planned(machine: Machine, run: Run) -> list[tuple[float, float]]:
    """Profile points after the controller has judged the load."""
    points = list(run.profile.points)
    first = distribution(points, 2.0 * clinging_rpm(machine))
    if run.controller is None or first < 2 or first == len(points):
        return points
    speed = points[first - 1][1]
    if speed <= 0.0 or ripple(machine, speed) <= run.controller.ripple_limit:
        return points
    return given_up(points, first, run.controller)


def drive_table(machine: Machine, run: Run) -> Floats:
    """Time in s and drum speed in rad/s, (n, 2)."""
    return np.array([(t, rpm * RPM) for t, rpm in planned(machine, run)])


def falls(table: Floats, cling_rad_s: float, rng: np.random.Generator) -> list[float]:
    """Instants at which one lump lets go: about once a turn while the drum is too slow for it to cling."""
    out, t = [], float(table[0, 0]) + float(rng.uniform(0.0, 1.0))
    while t < table[-1, 0]:
        speed = float(np.interp(t, table[:, 0], table[:, 1]))
        if 0.15 * cling_rad_s < speed < 1.15 * cling_rad_s:
            out.append(t)
            t += float(rng.uniform(0.7, 1.4)) * 2 * pi / speed
        else:
            t += 0.1
    return out


def tumbling(machine: Machine, table: Floats, seed: int, rate_hz: float) -> Floats:
    """Sideways and upright force of tumbling lumps on the tub, (n, 2) at ``rate_hz``.

    A lump in flight takes its weight off the tub and gives it back as a blow of equal impulse when it lands. Half
    the load tumbles (estimate). Zero for an upright drum or without lumps.
    """
    load, drum = machine.load, machine.drum
    if load.lumps == 0 or load.mass_kg <= 0.0 or abs(drum.axis[2]) > 0.7:
        return np.zeros((1, 2))
    rng, t = np.random.default_rng(seed), np.arange(int(table[-1, 0] * rate_hz) + 2) / rate_hz
    out, mass = np.zeros((t.size, 2)), 0.5 * load.mass_kg / load.lumps
    flight = float(np.sqrt(2 * 1.2 * drum.radius_m / GRAVITY))
    shape = np.sin(pi * (np.arange(round(IMPACT_S * rate_hz)) + 0.5) / round(IMPACT_S * rate_hz))
    blow = mass * GRAVITY * flight * shape / (shape.sum() / rate_hz)
    for _ in range(load.lumps):
        for start in falls(table, float(np.sqrt(GRAVITY / drum.radius_m)), rng):
            i, k = int(start * rate_hz), int((start + flight) * rate_hz)
            out[i:k, 1] += mass * GRAVITY
            room = out[k : k + blow.size]
            room[:, 1] -= blow[: len(room)]
            room[:, 0] += float(rng.uniform(-0.5, 0.5)) * blow[: len(room)]
    return out
