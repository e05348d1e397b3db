"""What drives the drum: the speed the controller lets it reach, and the laundry that tumbles."""

from math import pi

import numpy as np

from counterpoise.dynamics.kernels.layout import GRAVITY
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.pack import RPM, Floats, combine, drum_axes, turning_parts
from counterpoise.dynamics.motion.run import Controller, Run

# How long a lump of wet laundry takes to come to rest on the drum, s (estimate).
IMPACT_S = 0.05
# Pause between two attempts to spread the load, s: the drum runs down and stands (estimate).
RUN_DOWN_S, STAND_S = 3.0, 0.5


def clinging_rpm(machine: Machine) -> float:
    """Speed in rpm at which laundry clings to the drum wall: omega^2 R = g."""
    return float(np.sqrt(GRAVITY / machine.drum.radius_m) / RPM)


def static_unbalance_kg_m(machine: Machine) -> float:
    """Size of the vector sum of m r, kg m."""
    return float(
        abs(sum(u.mass_kg * u.radius_m * np.exp(1j * u.angle_rad) for u in machine.load.unbalances))
    )


def speed_ripple(machine: Machine, rpm: float) -> float:
    """Share of the speed by which gravity makes an unbalanced drum rise and fall once a turn.

    m g r / (I omega^2) with the motor's torque held constant (derived); nothing for an upright
    drum. It is what a controller without any sensor of its own can measure.
    """
    axes = drum_axes(machine)
    inertia = float(axes[2] @ combine(turning_parts(machine)).inertia_kg_m2 @ axes[2])
    # gravity works only on what the axis leaves level
    across = float(np.hypot(axes[2, 0], axes[2, 1]))
    return static_unbalance_kg_m(machine) * GRAVITY * across / (inertia * (rpm * RPM) ** 2)


def distribution_end(points: list[tuple[float, float]], limit_rpm: float) -> int:
    """How many points (s, rpm) come before the first climb above the distribution speed."""
    for i, (_, rpm) in enumerate(points):
        if rpm > limit_rpm:
            return i
    return len(points)


def abandoned_points(
    points: list[tuple[float, float]], first: int, control: Controller
) -> list[tuple[float, float]]:
    """Points (s, rpm) of a spin given up: the ``first`` of them again and again, then stop."""
    out, start = [], 0.0
    for _ in range(control.attempts):
        out += [(start + t, rpm) for t, rpm in points[:first]]
        start = out[-1][0] + RUN_DOWN_S
        out.append((start, 0.0))
        start += STAND_S
    return [*out, (start, 0.0)]


def controlled_points(machine: Machine, run: Run) -> list[tuple[float, float]]:
    """Profile points (s, rpm) after the controller has judged the load at distribution speed."""
    points = list(run.profile.points)
    # Distribution is anything slower than twice the speed at which laundry clings.
    first = distribution_end(points, 2.0 * clinging_rpm(machine))
    if run.controller is None or first < 2 or first == len(points):
        return points
    speed = points[first - 1][1]
    if speed <= 0.0 or speed_ripple(machine, speed) <= run.controller.ripple_limit:
        return points
    return abandoned_points(points, first, run.controller)


def drive_table(machine: Machine, run: Run) -> Floats:
    """Time in s and drum speed in rad/s, (n, 2)."""
    return np.array([(t, rpm * RPM) for t, rpm in controlled_points(machine, run)])


def release_times(table: Floats, cling_rad_s: float, rng: np.random.Generator) -> list[float]:
    """Instants in s at which one lump lets go: about once a turn while the drum is too slow."""
    out, t = [], float(table[0, 0]) + float(rng.uniform(0.0, 1.0))
    while t < table[-1, 0]:
        speed = float(np.interp(t, table[:, 0], table[:, 1]))
        # Slower than this it slides at the bottom; faster it clings for good.
        if 0.15 * cling_rad_s < speed < 1.15 * cling_rad_s:
            out.append(t)
            t += float(rng.uniform(0.7, 1.4)) * 2 * pi / speed
        else:
            t += 0.1
    return out


def tumbling_forces(machine: Machine, table: Floats, seed: int, rate_hz: float) -> Floats:
    """Sideways and upright force in N of tumbling lumps on the tub, (n, 2) at ``rate_hz``.

    A lump in flight takes its weight off the tub and gives it back as a blow of equal impulse when
    it lands. Half the load tumbles (estimate). Zero (1, 2) for an upright drum or without lumps.
    """
    load, drum = machine.load, machine.drum
    if load.lumps == 0 or load.mass_kg <= 0.0 or abs(drum.axis[2]) > 0.7:
        return np.zeros((1, 2))
    rng, t = np.random.default_rng(seed), np.arange(int(table[-1, 0] * rate_hz) + 2) / rate_hz
    out, mass = np.zeros((t.size, 2)), 0.5 * load.mass_kg / load.lumps
    # free fall through 1.2 radii: from where it lets go to the wall below (estimate)
    flight = float(np.sqrt(2 * 1.2 * drum.radius_m / GRAVITY))
    shape = np.sin(pi * (np.arange(round(IMPACT_S * rate_hz)) + 0.5) / round(IMPACT_S * rate_hz))
    blow = mass * GRAVITY * flight * shape / (shape.sum() / rate_hz)
    for _ in range(load.lumps):
        for start in release_times(table, float(np.sqrt(GRAVITY / drum.radius_m)), rng):
            i, k = int(start * rate_hz), int((start + flight) * rate_hz)
            out[i:k, 1] += mass * GRAVITY
            # a blow that lasts past the end of the run is cut off with it
            landing = out[k : k + blow.size]
            landing[:, 1] -= blow[: len(landing)]
            # it does not land quite below the axis
            landing[:, 0] += float(rng.uniform(-0.5, 0.5)) * blow[: len(landing)]
    return out
