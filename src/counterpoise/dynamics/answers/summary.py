"""What the bench asks of the machine as physics.

Resonances, travel, lifting and slipping feet, force, and the heaviest single thing.
"""

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from counterpoise.dynamics.machines.machine import CORNERS, Load, Machine
from counterpoise.dynamics.motion.equilibrium import rest
from counterpoise.dynamics.motion.harmonics import order_all_axes
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import Floats, pack
from counterpoise.dynamics.motion.response import Response, respond
from counterpoise.dynamics.motion.run import Phone, Run, SpinProfile
from counterpoise.dynamics.motion.simulate import SpinResult, simulate, watch_points
from counterpoise.errors import InputError

MOST_KG = 5.0
WALKED_M = 0.001
TWICE_FROM_RPM = 60.0


@dataclass(frozen=True)
class Resonance:
    """A natural motion met below the top speed."""

    rpm: float
    words: str
    damping: float


@dataclass(frozen=True)
class FootEvent:
    """The lowest speed at which a foot loses its hold, and which."""

    rpm: float
    foot: str


@dataclass(frozen=True)
class Answers:
    """What one machine does in a spin to its top speed.

    Travel and force come from the time integration; lifting and slipping speeds from the steady response at each
    speed. ``None``: does not
    happen up to the top speed. ``panel_twice_m_s2``: largest amplitude at twice the drum's turning, above 60 rpm.
    """

    top_rpm: float
    unbalance_kg: float
    resonances: tuple[Resonance, ...]
    worst_travel_rpm: float
    travel_mm: float
    clearance_mm: float
    strikes: bool
    strikes_rpm: float | None
    hangs_right_mm: float
    hangs_low_mm: float
    lift: FootEvent | None
    slip: FootEvent | None
    walked_mm: float
    floor_force_n: float
    panel_top_m_s2: float
    panel_worst_m_s2: float
    panel_worst_rpm: float
    panel_twice_m_s2: float
    complete: bool

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class Study:
    """Answers with the curves behind them."""

    machine: Machine
    answers: Answers
    response: Response
    spin: SpinResult


def climb(top_rpm: float, seconds: float = 45.0) -> SpinProfile:
    """Rest, an even climb, a short hold: passes every speed slowly enough for the resonances to build up."""
    return SpinProfile(((0.0, 0.0), (0.5, 0.0), (0.5 + seconds, top_rpm), (5.5 + seconds, top_rpm)))


def speeds(top_rpm: float) -> Floats:
    """Speeds of the steady response: close together where the tub resonates."""
    low = np.arange(30.0, min(400.0, top_rpm), 5.0)
    return np.append(low, np.linspace(min(400.0, top_rpm), top_rpm, 30))


def first(response: Response, trouble: Callable[[Floats, Floats], Floats]) -> FootEvent | None:
    """Lowest speed at which ``trouble(side, upright)`` exceeds zero for any foot, over one turn of the drum."""
    turn = np.exp(1j * np.linspace(0.0, 2 * np.pi, 48, endpoint=False))
    for k, rpm in enumerate(response.rpm):
        force = response.standing_n[None] + (response.foot_n[k][None] * turn[:, None, None]).real
        worst = trouble(np.hypot(force[:, :, 0], force[:, :, 1]), force[:, :, 2]).max(axis=0)
        if worst.max() > 0.0:
            return FootEvent(float(rpm), CORNERS[int(worst.argmax())])
    return None


def lifting(response: Response) -> FootEvent | None:
    """When the first foot comes off the floor; one that hangs free at rest counts at once."""
    return first(response, lambda _, upright: -upright + 1e-6)


def slipping(machine: Machine, response: Response) -> FootEvent | None:
    """When the first loaded foot would slide if the others did not hold it."""
    friction = np.array([f.friction for f in machine.feet])
    return first(
        response, lambda side, upright: np.where(upright > 1.0, side - friction * upright, -1.0)
    )


def clearance(machine: Machine) -> float:
    """Least way to a stop, in m."""
    return min(
        machine.stops.side_m, machine.stops.along_m, machine.stops.down_m, machine.stops.up_m
    )


def resonances(machine: Machine) -> tuple[Resonance, ...]:
    """Natural motions of the tub and of all else that the drum speed meets.

    With a tenth to spare above the top speed.
    """
    met = [m for m in modes(machine) if 20.0 < m.rpm <= 1.1 * machine.top_rpm and m.damping < 0.7]
    return tuple(Resonance(m.rpm, m.words, m.damping) for m in met)


def hanging(machine: Machine) -> tuple[float, float]:
    """How far the tub's centre hangs to the right and below its drawn place when at rest, in m."""
    par = pack(machine)
    q = rest(par)
    middle = watch_points(machine, None)[0]
    way = q[6:9] - q[0:3] + np.cross(q[9:12], middle[0:3]) - np.cross(q[3:6], middle[3:6])
    return float(way[0]), float(-way[2])


def rolling_rms(signal: Floats, samples: int) -> Floats:
    """Root mean square over a sliding window, the mean of the window taken out."""
    kernel = np.ones(samples) / samples
    mean = np.convolve(signal, kernel, "same")
    return np.asarray(np.sqrt(np.maximum(np.convolve(signal**2, kernel, "same") - mean**2, 0.0)))


def study(
    machine: Machine, phone: Phone | None = None, watch_m: tuple[float, float, float] | None = None
) -> Study:
    """Run a machine up to its top speed and read off what the bench asks. About half a second."""
    where = phone or Phone()
    response = respond(machine, speeds(machine.top_rpm), watch_m, where)
    spin = simulate(machine, Run(climb(machine.top_rpm), phone=where, watch_m=watch_m), 200.0)
    return Study(machine, read(machine, response, spin), response, spin)


def read(machine: Machine, response: Response, spin: SpinResult) -> Answers:
    """Numbers out of a response and a spin."""
    travel = np.abs(spin.tub_m).max(axis=1)
    worst = int(travel.argmax())
    panel = np.sqrt(sum(rolling_rms(spin.panel_m_s2[:, i], 200) ** 2 for i in range(3)))
    inner = panel[200:-200] if panel.size > 600 else panel
    loudest = int(inner.argmax()) + (200 if panel.size > 600 else 0)
    right, low = hanging(machine)
    twice = order_all_axes(spin, 2.0)[spin.drum_rpm > TWICE_FROM_RPM]
    return Answers(
        top_rpm=machine.top_rpm,
        unbalance_kg=sum(u.mass_kg for u in machine.load.unbalances),
        resonances=resonances(machine),
        worst_travel_rpm=float(spin.drum_rpm[worst]),
        travel_mm=1e3 * float(travel[worst]),
        clearance_mm=1e3 * clearance(machine),
        strikes=spin.struck,
        strikes_rpm=float(spin.drum_rpm[np.argmax(spin.stop_n > 0.0)]) if spin.struck else None,
        hangs_right_mm=1e3 * right,
        hangs_low_mm=1e3 * low,
        lift=lifting(response),
        slip=slipping(machine, response),
        walked_mm=1e3 * float(np.abs(spin.walked_m[-1]).max()),
        floor_force_n=float((spin.foot_n[:, :, 2].sum(axis=1) - spin.foot_n[0, :, 2].sum()).max()),
        panel_top_m_s2=float(panel[-400]),
        panel_worst_m_s2=float(panel[loudest]),
        panel_worst_rpm=float(spin.drum_rpm[loudest]),
        panel_twice_m_s2=float(twice.max(initial=0.0)),
        complete=spin.complete,
    )


@dataclass(frozen=True)
class Heaviest:
    """The heaviest single thing on the drum wall, in kg, that this machine spins to its top speed; ``None``.

    More than 5 kg.
    """

    before_striking_kg: float | None
    before_walking_kg: float | None


def with_item(machine: Machine, kg: float) -> Machine:
    """The machine with one thing in the middle of the drum and nothing else out of balance."""
    bare = replace(machine, load=Load(machine.load.mass_kg, (), 0))
    return bare.with_unbalance(kg, laundry=False)


def heaviest_item(machine: Machine, precision_kg: float = 0.02) -> Heaviest:
    """Halve the interval until the heaviest single thing is known that the machine spins without striking.

    And without walking.

    No controller steps in. Walking: any foot shifts by more than 1 mm over the climb.
    """
    seen: dict[float, SpinResult] = {}

    def spun(kg: float) -> SpinResult:
        if kg not in seen:
            seen[kg] = simulate(with_item(machine, kg), Run(climb(machine.top_rpm, 30.0)), 100.0)
        return seen[kg]

    def strikes(kg: float) -> bool:
        return spun(kg).struck or not spun(kg).complete

    def walks(kg: float) -> bool:
        return bool(np.abs(spun(kg).walked_m).max() > WALKED_M) or not spun(kg).complete

    return Heaviest(bisect(strikes, precision_kg), bisect(walks, precision_kg))


def bisect(fails: Callable[[float], bool], precision_kg: float) -> float | None:
    """Largest weight that does not fail; None where even the heaviest passes."""
    if not 0.001 <= precision_kg <= 1.0:
        raise InputError(
            f"a precision of {precision_kg:g} kg",
            field="precision_kg",
            remedy="0.001 to 1 kg is valid",
        )
    low, high = 0.0, MOST_KG
    if not fails(high):
        return None
    while high - low > precision_kg:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if fails(middle) else (middle, high)
    return low
