"""What the bench asks of a machine in a spin, as figures.

Resonances, travel, lifting and slipping feet, force, and the heaviest single thing.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace

import numpy as np

from counterpoise.dynamics.effects.quantities import (
    FINE_HZ,
    THIN,
    TWICE_FROM_RPM,
    climb,
    measure,
    panel_rms,
    slow_climb,
    thinned,
)
from counterpoise.dynamics.machines.machine import CORNERS, Load, Machine
from counterpoise.dynamics.motion.harmonics import total_order_amplitude
from counterpoise.dynamics.motion.linear import modes
from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.response import Response, respond
from counterpoise.dynamics.motion.run import Phone, Run
from counterpoise.dynamics.motion.sag import static_sag
from counterpoise.dynamics.motion.simulate import SpinResult, simulate
from counterpoise.errors import InputError

# Heaviest single thing that is tried, kg (estimate: a soaked rug).
MOST_KG = 5.0
# A foot that shifts less than this over a climb has only settled (estimate).
WALKED_M = 0.001
# Samples of the sliding root mean square: one second.
WINDOW = round(FINE_HZ / THIN)


@dataclass(frozen=True)
class Resonance:
    """A natural motion met below the top speed: drum speed, words, damping ratio."""

    rpm: float
    words: str
    damping: float


@dataclass(frozen=True)
class FootEvent:
    """The lowest speed in rpm at which a foot loses its hold, and which."""

    rpm: float
    foot: str


@dataclass(frozen=True)
class SpinSummary:
    """What one machine does in a spin to its top speed.

    Travel and force come from the time integration; lifting and slipping speeds from the steady
    response at each speed. ``None``: does not happen up to the top speed. ``panel_twice_m_s2``:
    largest amplitude at twice the drum's turning, above 60 rpm.
    """

    top_rpm: float
    unbalance_kg: float
    resonances: tuple[Resonance, ...]
    worst_travel_rpm: float
    travel_mm: float
    clearance_mm: float
    strikes: bool
    strikes_rpm: float | None
    # at rest, against where it is drawn: how a lost spring shows before anything turns
    hangs_right_mm: float
    hangs_low_mm: float
    lift: FootEvent | None
    slip: FootEvent | None
    walked_mm: float
    # beyond the weight
    floor_force_n: float
    # root mean square of the three axes, at top speed and at its worst
    panel_top_m_s2: float
    panel_worst_m_s2: float
    panel_worst_rpm: float
    panel_twice_m_s2: float
    complete: bool

    def to_dict(self) -> dict[str, object]:
        """Plain values for JSON, None where a thing does not happen."""
        return asdict(self)


@dataclass(frozen=True)
class SpinStudy:
    """A machine's summary with the curves behind it: steady response and climb to top speed.

    ``effects`` are the quantities of the fault table, by name.
    """

    machine: Machine
    summary: SpinSummary
    response: Response
    spin: SpinResult
    effects: Mapping[str, float]


def response_speeds(top_rpm: float) -> Floats:
    """Speeds of the steady response (n,), sorted, in rpm: close together where the tub swings."""
    low = np.arange(30.0, min(400.0, top_rpm), 5.0)
    return np.append(low, np.linspace(min(400.0, top_rpm), top_rpm, 30))


def first_foot_event(
    response: Response, trouble: Callable[[Floats, Floats], Floats]
) -> FootEvent | None:
    """Lowest speed at which ``trouble(side, upright)`` of forces in N exceeds zero for any foot.

    Looked for over one turn of the drum; None where it never does.
    """
    # 48 places a turn: the largest force between two of them is at most 0.2 % above
    turn = np.exp(1j * np.linspace(0.0, 2 * np.pi, 48, endpoint=False))
    for k, rpm in enumerate(response.rpm):
        force = response.standing_n[None] + (response.foot_n[k][None] * turn[:, None, None]).real
        worst = trouble(np.hypot(force[:, :, 0], force[:, :, 1]), force[:, :, 2]).max(axis=0)
        if worst.max() > 0.0:
            return FootEvent(float(rpm), CORNERS[int(worst.argmax())])
    return None


def first_lift(response: Response) -> FootEvent | None:
    """When the first foot comes off the floor; one that hangs free at rest counts at once."""
    return first_foot_event(response, lambda _, upright: -upright + 1e-6)


def first_slip(machine: Machine, response: Response) -> FootEvent | None:
    """When the first loaded foot (above 1 N) would slide if the others did not hold it."""
    friction = np.array([f.friction for f in machine.feet])
    return first_foot_event(
        response, lambda side, upright: np.where(upright > 1.0, side - friction * upright, -1.0)
    )


def least_clearance(machine: Machine) -> float:
    """Shortest way to a stop, in m."""
    return min(
        machine.stops.side_m, machine.stops.along_m, machine.stops.down_m, machine.stops.up_m
    )


def resonances(machine: Machine) -> tuple[Resonance, ...]:
    """Natural motions that the drum speed meets, sorted, with a tenth to spare above top speed."""
    # Slower than 20 rpm is the machine sliding on its feet; damped above 0.7 nothing swings.
    met = [m for m in modes(machine) if 20.0 < m.rpm <= 1.1 * machine.top_rpm and m.damping < 0.7]
    return tuple(Resonance(m.rpm, m.words, m.damping) for m in met)


def study_spin(
    machine: Machine, phone: Phone | None = None, watch_m: tuple[float, float, float] | None = None
) -> SpinStudy:
    """Run a machine up to its top speed and read off what the bench asks; about half a second.

    Raises InputError for a machine that cannot be.
    """
    where = phone or Phone()
    response = respond(machine, response_speeds(machine.top_rpm), watch_m, where)
    fine = climb(machine, where, watch_m)
    spin = thinned(fine)
    effects = measure(machine, fine, spin)
    return SpinStudy(machine, summarise(machine, response, spin), response, spin, effects)


def summarise(machine: Machine, response: Response, spin: SpinResult) -> SpinSummary:
    """Figures out of a steady response and a climb sampled at 200 Hz."""
    travel = np.abs(spin.tub_m).max(axis=1)
    worst = int(travel.argmax())
    panel = panel_rms(spin, WINDOW)
    # the window runs over both ends, where it sees zeros that were not there
    inner = panel[WINDOW:-WINDOW] if panel.size > 3 * WINDOW else panel
    loudest = int(inner.argmax()) + (WINDOW if panel.size > 3 * WINDOW else 0)
    right, low = static_sag(machine)
    twice = total_order_amplitude(spin, 2.0)[spin.drum_rpm > TWICE_FROM_RPM]
    return SpinSummary(
        top_rpm=machine.top_rpm,
        unbalance_kg=sum(u.mass_kg for u in machine.load.unbalances),
        resonances=resonances(machine),
        worst_travel_rpm=float(spin.drum_rpm[worst]),
        travel_mm=1e3 * float(travel[worst]),
        clearance_mm=1e3 * least_clearance(machine),
        strikes=spin.struck,
        strikes_rpm=float(spin.drum_rpm[np.argmax(spin.stop_n > 0.0)]) if spin.struck else None,
        hangs_right_mm=1e3 * right,
        hangs_low_mm=1e3 * low,
        lift=first_lift(response),
        slip=first_slip(machine, response),
        walked_mm=1e3 * float(np.abs(spin.walked_m[-1]).max()),
        floor_force_n=float((spin.foot_n[:, :, 2].sum(axis=1) - spin.foot_n[0, :, 2].sum()).max()),
        # two seconds before the end: the speed is held and the climb has died away
        panel_top_m_s2=float(panel[-2 * WINDOW]),
        panel_worst_m_s2=float(panel[loudest]),
        panel_worst_rpm=float(spin.drum_rpm[loudest]),
        panel_twice_m_s2=float(twice.max(initial=0.0)),
        complete=spin.complete,
    )


@dataclass(frozen=True)
class HeaviestItem:
    """The heaviest single thing on the drum wall, in kg, that the machine spins to its top speed.

    ``None`` where it is more than 5 kg.
    """

    before_striking_kg: float | None
    before_walking_kg: float | None


def with_item(machine: Machine, kg: float) -> Machine:
    """The machine with one thing in the middle of the drum and nothing else out of balance."""
    bare = replace(machine, load=Load(machine.load.mass_kg, (), 0))
    return bare.with_unbalance(kg, laundry=False)


def heaviest_item(machine: Machine, precision_kg: float = 0.02) -> HeaviestItem:
    """The heaviest single thing that the machine spins without striking, and without walking.

    To within ``precision_kg``, by halving the interval. No controller steps in. Walking: any foot
    shifts by more than 1 mm over the climb. Raises InputError for a precision that makes no sense.
    """
    spins: dict[float, SpinResult] = {}

    def spun(kg: float) -> SpinResult:
        # both searches ask for the same weights at first
        if kg not in spins:
            run = Run(slow_climb(machine.top_rpm, 30.0))
            spins[kg] = simulate(with_item(machine, kg), run, 100.0)
        return spins[kg]

    def strikes(kg: float) -> bool:
        return spun(kg).struck or not spun(kg).complete

    def walks(kg: float) -> bool:
        return bool(np.abs(spun(kg).walked_m).max() > WALKED_M) or not spun(kg).complete

    return HeaviestItem(
        heaviest_passing(strikes, precision_kg), heaviest_passing(walks, precision_kg)
    )


def heaviest_passing(fails: Callable[[float], bool], precision_kg: float) -> float | None:
    """Largest weight in kg that does not fail; None where even the heaviest passes.

    Raises InputError for a precision outside 0.001 to 1 kg.
    """
    if not 0.001 <= precision_kg <= 1.0:
        raise InputError(
            f"a precision of {precision_kg:g} kg",
            field="precision_kg",
            remedy="0.001 to 1 kg is valid",
        )
    low, high = 0.0, MOST_KG
    if not fails(high):
        return None
    # Bisection; what fails is taken to fail with anything heavier.
    while high - low > precision_kg:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if fails(middle) else (middle, high)
    return low
