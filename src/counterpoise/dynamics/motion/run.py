"""What is done with a machine: speed profile, controller, where the phone lies, what is watched."""

from dataclasses import dataclass, field

from counterpoise.dynamics.machines.machine import Vector


@dataclass(frozen=True)
class SpinProfile:
    """Drum speed as straight stretches between points (time in s, speed in rpm)."""

    points: tuple[tuple[float, float], ...]

    @property
    def duration_s(self) -> float:
        """Time of the last point, s."""
        return self.points[-1][0]


@dataclass(frozen=True)
class Controller:
    """Gives up when the load is too far out of balance.

    It compares the speed ripple that gravity works on the unbalance at distribution speed (m g r /
    (I omega^2), closed form) with its limit and tumbles again up to ``attempts`` times;
    ``travel_m`` above zero adds a switch that cuts a spin when the tub's centre leaves that circle.
    """

    # about 1.2 kg out of balance beside 4 kg of load; estimate
    ripple_limit: float = 0.05
    attempts: int = 3
    travel_m: float = 0.0
    # Slower the laundry still falls about, and a switch would trip on that (estimate).
    travel_from_rpm: float = 120.0
    brake_rpm_s: float = 25.0


@dataclass(frozen=True)
class Phone:
    """A phone flat on the top panel: place in m from its middle, turns in rad.

    ``yaw_rad`` is the turn about the upright; at zero the phone's y axis points to the rear.
    """

    x_m: float = 0.0
    y_m: float = 0.0
    yaw_rad: float = 0.0
    pitch_rad: float = 0.0
    roll_rad: float = 0.0


@dataclass(frozen=True)
class Run:
    """One spin: profile, optional controller, phone, watched tub point in m, seed of the tumbling.

    ``watch_m`` None: the drum's middle.
    """

    profile: SpinProfile
    controller: Controller | None = None
    phone: Phone = field(default_factory=Phone)
    watch_m: Vector | None = None
    seed: int = 0


def spin_cycle(top_rpm: float, hold_s: float = 20.0) -> SpinProfile:
    """A usual short spin, s and rpm: tumble, distribute, two steps, full speed, coast."""
    # Times and steps: common practice. 48 rpm tumbles, 94 rpm lets the load cling and spread.
    steps = [(0.0, 0.0), (1.0, 0.0), (3.0, 48.0), (12.0, 48.0), (16.0, 94.0), (23.0, 94.0)]
    for share, climb, hold in ((0.37, 10.0, 5.0), (0.68, 12.0, 7.0), (1.0, 14.0, hold_s)):
        start = steps[-1][0]
        steps += [(start + climb, share * top_rpm), (start + climb + hold, share * top_rpm)]
    return SpinProfile((*steps, (steps[-1][0] + 18.0, 0.0), (steps[-1][0] + 20.0, 0.0)))


def run_up(top_rpm: float, duration_s: float, start_rpm: float = 0.0) -> SpinProfile:
    """One straight climb to ``top_rpm`` in ``duration_s`` seconds."""
    return SpinProfile(((0.0, start_rpm), (duration_s, top_rpm)))


def hold(rpm: float, duration_s: float) -> SpinProfile:
    """One constant speed in rpm for ``duration_s`` seconds."""
    return SpinProfile(((0.0, rpm), (duration_s, rpm)))
