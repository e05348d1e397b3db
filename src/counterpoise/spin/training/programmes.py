"""What a controller does: the usual programme of a spin, and when it gives one up."""

from dataclasses import dataclass

import numpy as np

from counterpoise.dynamics import Machine, SpinProfile, SpinResult
from counterpoise.dynamics.motion.speed_control import speed_ripple


@dataclass(frozen=True)
class AbortLimits:
    """What a controller minds at distribution speed, and how often it tries.

    ``ripple`` is a share of the speed, ``travel_m`` the way of the tub in m.
    """

    ripple: float
    travel_m: float
    attempts: int

    def aborts(self, machine: Machine, spin: SpinProfile, result: SpinResult) -> bool:
        """Whether it would not have let this spin go on."""
        end_s, rpm = distribution_end(spin)
        last = (result.t_s > end_s - 3) & (result.t_s < end_s)
        travel = np.hypot(result.tub_centre_m[last, 0], result.tub_centre_m[last, 2])
        return (
            speed_ripple(machine, rpm) > self.ripple
            or float(travel.max(initial=0.0)) > self.travel_m
        )


def random_abort_limits(rng: np.random.Generator) -> AbortLimits:
    """Draw the limits of a controller: ripple 1.2 to 8 %, travel 4 to 20 mm, 2 to 4 attempts."""
    ripple_limit, travel = np.exp(rng.uniform(np.log([0.012, 0.004]), np.log([0.08, 0.02])))
    return AbortLimits(float(ripple_limit), float(travel), int(rng.integers(2, 5)))


def random_profile(rng: np.random.Generator, top_rpm: float) -> SpinProfile:
    """Tumble, distribute (once or twice), two holds on the way, full speed in rpm, coast."""
    # At rest for a moment: somebody presses start and steps back.
    points = [(0.0, 0.0), (float(rng.uniform(1, 5)), 0.0)]
    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    for _ in range(1 + int(rng.random() < 0.25)):
        _distribute(points, tumble, even, rng)
    # Two holds on the way, where controllers look whether the load sits well.
    for rpm in (rng.uniform(370, 440), rng.uniform(620, 820), top_rpm):
        _to(points, (rpm - points[-1][1]) / rng.uniform(22, 48), rpm)
        _to(points, rng.uniform(4, 8), rpm * rng.uniform(0.997, 1.003))
    _to(points, rng.uniform(10, 18), top_rpm)
    # Motors brake at 80 to 150 rpm a second (estimate).
    _to(points, top_rpm / rng.uniform(80, 150), 0.0)
    _to(points, 2.0, 0.0)
    return SpinProfile(tuple(points))


def _to(points: list[tuple[float, float]], seconds: float, rpm: float) -> None:
    points.append((points[-1][0] + float(seconds), float(rpm)))


def _distribute(
    points: list[tuple[float, float]], tumble: float, even: float, rng: np.random.Generator
) -> None:
    _to(points, 2.0, tumble)
    _to(points, rng.uniform(4, 9), tumble)
    _to(points, 3.0, even)
    _to(points, rng.uniform(6, 11), even * rng.uniform(0.98, 1.02))


def distribution_end(spin: SpinProfile) -> tuple[float, float]:
    """End in s and speed in rpm of the last distribution before the climb."""
    climb = next(i for i, (_, rpm) in enumerate(spin.points) if rpm > 200)
    return spin.points[climb - 1]


def aborted_profile(attempts: int, rng: np.random.Generator) -> SpinProfile:
    """Tumble and distribute ``attempts`` times over, then stop; never above 110 rpm."""
    points = [(0.0, 0.0), (float(rng.uniform(1, 5)), 0.0)]
    tumble, even = rng.uniform(42, 56), rng.uniform(85, 105)
    for _ in range(attempts):
        _distribute(points, tumble, even, rng)
    _to(points, rng.uniform(1, 4), 0.0)
    _to(points, 4.0, 0.0)
    return SpinProfile(tuple(points))
