"""Resonances that the drum passed through: where, how strong, how damped.

The first order over the square of the speed is the machine's answer to a constant unbalance; its
peaks are resonances. Damping comes from the half-power width, which over-reads on an unbalance
run-up (by 5 % at a damping ratio of 0.1 and 26 % at 0.2, derived), so it is an upper estimate.
"""

from dataclasses import dataclass

import numpy as np
from scipy import signal as filters

from counterpoise.spin.features.signature import Levels
from counterpoise.spin.recording import Floats

# About what a climb covers from frame to frame.
STEP_RPM = 10.0
# A peak stands out by a third over both its feet, or it is scatter (estimate).
PROMINENCE_LOG10 = 0.13
# Wider is no one resonance: two have grown together.
MOST_WIDTH = 0.6


@dataclass(frozen=True)
class Resonance:
    """A resonance: ``axis`` flat or up, rpm, 1x amplitude, damping ratio (None if too wide)."""

    axis: str
    rpm: float
    level_ms2: float
    damping: float | None


def find_resonances(levels: Levels) -> tuple[Resonance, ...]:
    """Resonances above 160 rpm on either axis, slowest first; empty with too few speeds."""
    resonances = [
        each
        for axis, line in (("flat", levels.flat[1]), ("up", levels.up[1]))
        for each in _on(axis, levels.rpm, line)
    ]
    return tuple(sorted(resonances, key=lambda each: each.rpm))


def _on(axis: str, rpm: Floats, line: Floats) -> list[Resonance]:
    grid, level = _curve(rpm, line)
    if len(grid) < 8:
        return []
    # Unbalance pushes with the square of the speed; what is left is the machine.
    answer = np.log10(level / grid**2)
    peaks, _ = filters.find_peaks(answer, prominence=PROMINENCE_LOG10)
    resonances = []
    for peak in map(int, peaks):
        summit, damping = _summit(grid, answer, peak), _damping(grid, answer, peak)
        resonances.append(Resonance(axis, summit, float(level[peak]), damping))
    return resonances


def _curve(rpm: Floats, line: Floats) -> tuple[Floats, Floats]:
    """Median level on an even grid of speeds in rpm, lightly smoothed; empty for under 8 frames."""
    good = np.isfinite(line) & (line > 0) & (rpm > 160)
    if good.sum() < 8:
        return np.empty(0), np.empty(0)
    slot = np.round(rpm[good] / STEP_RPM).astype(int)
    taken = np.unique(slot)
    # Medians: a speed is passed more than once, and one pass may hold a bump.
    level = np.array([np.median(line[good][slot == each]) for each in taken])
    grid = np.arange(taken[0], taken[-1] + 1) * STEP_RPM
    even = np.exp(np.interp(grid, taken * STEP_RPM, np.log(level)))
    smooth = np.convolve(np.pad(even, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    return grid.astype(np.float64), smooth


def _summit(grid: Floats, answer: Floats, peak: int) -> float:
    """Parabola through the peak and its neighbours."""
    left, top, right = answer[peak - 1 : peak + 2]
    bend = left - 2 * top + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float(grid[peak] + STEP_RPM * np.clip(shift, -0.5, 0.5))


def _damping(grid: Floats, answer: Floats, peak: int) -> float | None:
    # Half the power is 1 / sqrt(2) of the amplitude.
    """Damping ratio from the half-power width; None where the peak has no foot on one side."""
    half = answer[peak] - np.log10(2) / 2
    below = np.flatnonzero(answer[:peak] < half)
    above = np.flatnonzero(answer[peak:] < half)
    if not len(below) or not len(above):
        return None
    a, b = int(below[-1]), peak + int(above[0])
    low = np.interp(half, answer[a : a + 2], grid[a : a + 2])
    high = np.interp(-half, -answer[b - 1 : b + 1], grid[b - 1 : b + 1])
    width = float((high - low) / grid[peak])
    return width / 2 if width < MOST_WIDTH else None
