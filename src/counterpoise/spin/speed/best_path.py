"""The best path of a speed through the scores of short spectra, by dynamic programming."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.kind import WASHER_PACE, Pace
from counterpoise.spin.recording import Floats

# Cost of changing speed by one step of 0.1 Hz from frame to frame, in the same decades.
STEP_COST = 0.05
# Cost of a drum that appears or is lost in mid-file: it gets to speed by climbing and away from it
# by coasting, so each Hz costs two to three seconds of a plain line. Free at either end of a file.
SWITCH_COST = 4.0
SWITCH_COST_PER_HZ = 0.6
# Above 150 rpm, on top of it.
SPIN_HZ = 2.5
SPIN_COST_PER_HZ = 6.0
# Score of "nothing turns": a comb must beat it by more than noise does.
OFF_SCORE = 1.3


def switch_cost(candidates_hz: Floats) -> Floats:
    """Cost (n,) of a drum that appears or is lost at these speeds in Hz, but for a file's ends."""
    spinning = np.maximum(candidates_hz - SPIN_HZ, 0)
    cost: Floats = SWITCH_COST + SWITCH_COST_PER_HZ * candidates_hz + SPIN_COST_PER_HZ * spinning
    return cost


def best_path(score: Floats, candidates_hz: Floats, pace: Pace = WASHER_PACE) -> NDArray[np.int64]:
    """Best path (frames,) through (frames, candidates); -1 where "nothing turns" scores better."""
    frames, count = score.shape
    most_up, most_down = pace.steps_up, pace.steps_down
    # From slower speeds (a climb) and from faster ones (a coast).
    steps = np.arange(-most_up, most_down + 1)
    cost = STEP_COST * np.abs(steps)
    switch = switch_cost(candidates_hz)
    best, off = score[0].copy(), OFF_SCORE
    # -1 stands for "off", nothing turning.
    came = np.empty((frames, count), dtype=np.int32)
    came_off = np.empty(frames, dtype=np.int32)
    padded = np.full(count + most_up + most_down, -np.inf)
    window = np.lib.stride_tricks.sliding_window_view(padded, most_up + most_down + 1)
    rows = np.arange(count)
    for i in range(1, frames):
        padded[most_up:-most_down] = best
        options = window - cost
        choice = np.argmax(options, axis=1)
        stay = options[rows, choice]
        leave = best - switch
        end = int(np.argmax(leave))
        start = off - switch
        came[i] = np.where(stay >= start, rows + choice - most_up, -1)
        came_off[i] = end if leave[end] > off else -1
        off = max(off, float(leave[end])) + OFF_SCORE
        best = np.maximum(stay, start) + score[i]
    path = np.empty(frames, dtype=np.int64)
    path[-1] = int(np.argmax(best)) if best.max() > off else -1
    for i in range(frames - 1, 0, -1):
        path[i - 1] = came_off[i] if path[i] < 0 else came[i, path[i]]
    return path
