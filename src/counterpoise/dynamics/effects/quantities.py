"""The quantities by which words about a spin are judged, read from one climb to top speed.

What a word means is a quantity here: "swings too far" is the tub's travel on the way up, "hammers"
are blows a turn, "rocks" is a foot in the air.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.dynamics.kernels.layout import FLOOR, TUB, WEIGHT, WEIGHT_GAP, WEIGHT_MASS
from counterpoise.dynamics.machines.machine import Machine
from counterpoise.dynamics.motion.harmonics import total_order_amplitude
from counterpoise.dynamics.motion.pack import Floats, pack
from counterpoise.dynamics.motion.run import Phone, Run, SpinProfile
from counterpoise.dynamics.motion.sag import resting_way
from counterpoise.dynamics.motion.simulate import SpinResult, simulate

Flags = NDArray[np.bool_]
# A blow lasts a few ms, so blows are counted in samples of one; curves need no more than 200 a
# second.
FINE_HZ, THIN = 1000.0, 5
# Below it lie all natural motions of a tub, also of one that its dampers hold fast.
PASS_RPM = 450.0
# Slower than this there is no full turn in the second over which an order is read.
TWICE_FROM_RPM = 60.0
# How much of the end counts as "at full speed", s: the speed is held for five.
HELD_S = 2.0
# Orders up to six by halves: what they leave over turns with nothing.
HALF_ORDERS = 12


@dataclass(frozen=True)
class Quantity:
    """A quantity with its words, unit, digits to print, and the difference that is hardly one."""

    words: str
    unit: str
    digits: int
    hardly: float


# ``hardly`` is what neither hand nor phone tells from nothing (estimates).
QUANTITIES: Mapping[str, Quantity] = {
    "pass_mm": Quantity("travel of the tub on its way up", "mm", 1, 0.1),
    "travel_mm": Quantity("travel of the tub at full speed", "mm", 2, 0.02),
    "shake_m_s2": Quantity("shake of the top panel at full speed", "m/s2", 1, 0.02),
    "worst_m_s2": Quantity("worst shake of the top panel", "m/s2", 1, 0.05),
    "peak_m_s2": Quantity("largest jerk of the top panel at full speed", "m/s2", 1, 0.1),
    "floor_n": Quantity("swing of the force on the floor at full speed", "N", 0, 5.0),
    "blows": Quantity("blows a turn at full speed", "", 1, 0.1),
    "strike_n": Quantity("blow of the tub against the cabinet", "N", 0, 5.0),
    "feet_up": Quantity("time with a foot in the air", "%", 0, 1.0),
    "walked_mm": Quantity("way it walks in one climb", "mm", 0, 1.0),
    "low_mm": Quantity("how low the tub hangs", "mm", 0, 1.0),
    "side_mm": Quantity("how far off the middle the tub hangs", "mm", 1, 0.5),
    "twice_m_s2": Quantity("shake twice a turn", "m/s2", 2, 0.05),
    "rough_m_s2": Quantity("shake that is not in step with the drum", "m/s2", 2, 0.02),
    "floor_mm": Quantity("movement of the floor", "mm", 2, 0.05),
}


def slow_climb(top_rpm: float, seconds: float = 45.0) -> SpinProfile:
    """Rest, an even climb of so many seconds, a hold: slow enough for resonances to build up."""
    return SpinProfile(((0.0, 0.0), (0.5, 0.0), (0.5 + seconds, top_rpm), (5.5 + seconds, top_rpm)))


def climb(
    machine: Machine, phone: Phone, watch_m: tuple[float, float, float] | None = None
) -> SpinResult:
    """One slow climb to top speed, sampled finely and with all states.

    Raises InputError for a machine that makes no sense.
    """
    run = Run(slow_climb(machine.top_rpm), phone=phone, watch_m=watch_m)
    return simulate(machine, run, FINE_HZ, keep_state=True)


def thinned(fine: SpinResult) -> SpinResult:
    """The same spin at 200 samples a second, without states; blows in the stops are kept."""
    rows = (fine.stop_n.size - 1) // THIN + 1
    # the largest force since the last sample that stays, the first sample having no time before it
    before = np.zeros(rows)
    before[0] = fine.stop_n[0]
    before[1:] = fine.stop_n[1 : 1 + THIN * (rows - 1)].reshape(-1, THIN).max(axis=1)
    arrays = {
        name: getattr(fine, name)[::THIN]
        for name in (
            "t_s", "drum_rpm", "drum_rad", "panel_m_s2", "tub_m", "tub_centre_m", "foot_n",
            "walked_m",
        )
    }  # fmt: skip
    return replace(fine, stop_n=before, state=np.zeros((0, 36)), **arrays)


def rolling_rms(signal: Floats, samples: int) -> Floats:
    """Root mean square (n,) over a sliding window, the mean of the window taken out."""
    kernel = np.ones(samples) / samples
    mean = np.convolve(signal, kernel, "same")
    # rounding can leave a square below zero where nothing moves
    return np.asarray(np.sqrt(np.maximum(np.convolve(signal**2, kernel, "same") - mean**2, 0.0)))


def panel_rms(spin: SpinResult, samples: int) -> Floats:
    """Root mean square (n,) in m/s2 of the panel's three axes together, over so many samples."""
    squares = [rolling_rms(spin.panel_m_s2[:, i], samples) ** 2 for i in range(3)]
    return np.asarray(np.sqrt(sum(squares)))


def harmonics(angle: Floats, signals: Floats) -> tuple[Floats, Floats]:
    """Amplitudes (12, m) at half orders of signals (n, m), and what is left over (n, m)."""
    turns = np.outer(angle, 0.5 * np.arange(1, HALF_ORDERS + 1))
    basis = np.hstack([np.ones((angle.size, 1)), np.cos(turns), np.sin(turns)])
    # normal equations: well conditioned over dozens of turns, and ten times as fast
    parts = np.linalg.lstsq(basis.T @ basis, basis.T @ signals, rcond=None)[0]
    cos, sin = parts[1 : 1 + HALF_ORDERS], parts[1 + HALF_ORDERS :]
    return np.hypot(cos, sin), signals - basis @ parts


def onsets(touching: Flags) -> int:
    """How often something begins to touch: changes from no to yes along (n,) or (n, m)."""
    return int(np.count_nonzero(~touching[:-1] & touching[1:]))


def seat_touches(machine: Machine, state: Floats) -> Flags:
    """Whether a loose weight presses on its seat along each axis, (n, 3) of bools."""
    par = pack(machine)
    if par.weight[WEIGHT_MASS] <= 0.0:
        return np.zeros((state.shape[0], 3), dtype=bool)
    o = 6 * TUB
    # small turns: the tub of a machine that stands is never far from upright
    at = state[:, o : o + 3] + np.cross(state[:, o + 3 : o + 6], par.weight[4:7])
    return np.asarray(np.abs(state[:, WEIGHT : WEIGHT + 3] - at) > par.weight[WEIGHT_GAP])


def measure(machine: Machine, fine: SpinResult, spin: SpinResult) -> dict[str, float]:
    """Every quantity of one machine, from its climb as sampled finely and as thinned.

    A spin that breaks off counts by its last two seconds. Raises InputError without a rest.
    """
    end = slice(-round(HELD_S * FINE_HZ), None)
    way = 1e3 * resting_way(machine)
    tub, panel = fine.tub_m[end], fine.panel_m_s2[end]
    panel = panel - panel.mean(axis=0)
    sizes, left = harmonics(fine.drum_rad[end], np.hstack([tub, panel]))
    window = round(FINE_HZ / THIN)
    worst = panel_rms(spin, window)
    floor = fine.foot_n[end, :, 2].sum(axis=1)
    turns = max(1.0, float(np.ptp(fine.drum_rad[end])) / (2 * np.pi))
    blows = (
        onsets(fine.foot_n[end, :, 2] > 0.0)
        + onsets(fine.stop_n[end] > 0.0)
        + onsets(seat_touches(machine, fine.state[end]))
    )
    return {
        "pass_mm": 1e3 * float(np.abs(spin.tub_m[spin.drum_rpm < PASS_RPM]).max()),
        "travel_mm": 1e3 * float(sizes[1, :3].max()),
        "shake_m_s2": float(np.sqrt((panel**2).sum(axis=1).mean())),
        # both ends of the window see zeros that were not there
        "worst_m_s2": float(worst[window:-window].max(initial=0.0)),
        "peak_m_s2": float(np.abs(panel).max()),
        "floor_n": 0.5 * float(np.ptp(floor)),
        "blows": blows / turns,
        "strike_n": float(fine.stop_n.max()),
        "feet_up": 100.0 * float(np.any(spin.foot_n[:, :, 2] <= 0.0, axis=1).mean()),
        "walked_mm": 1e3 * float(np.abs(spin.walked_m[-1] - spin.walked_m[0]).max()),
        "low_mm": float(-way[2]),
        "side_mm": float(np.hypot(way[0], way[1])),
        "twice_m_s2": float(
            total_order_amplitude(spin, 2.0)[spin.drum_rpm > TWICE_FROM_RPM].max(initial=0.0)
        ),
        "rough_m_s2": float(np.sqrt((left[:, 3:] ** 2).sum(axis=1).mean())),
        "floor_mm": 1e3 * float(np.abs(fine.state[:, FLOOR] - fine.state[0, FLOOR]).max()),
    }
