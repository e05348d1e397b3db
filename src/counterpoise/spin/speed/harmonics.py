"""Stretches of a path put back from a harmonic to the drum, and strays taken out."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.kind import WASHER_PACE, Pace
from counterpoise.spin.recording import Floats

STEP_HZ = 0.1
# What counts as a jump between orders: a third up or down within the time that the pace gives.
JUMP_LOG = 0.33
# So high that a jump is left only where halving or doubling cannot close it.
JUMP_COST = 400.0
JUMP_FREE_LOG = 0.25
# A stretch after a gap may begin at 210 rpm for nothing; beyond, each factor costs.
START_COST = 40.0
START_FREE_HZ = 3.5
# A stretch of less than this share of the loud part's power is doubted: on its first hold a drum
# may have a thousandth of the power that it has at full speed (rehearsed).
FAINT_SHARE = 5e-4


def continuous_stretches(
    f_hz: Floats, t_s: Floats, pace: Pace = WASHER_PACE
) -> list[tuple[int, int]]:
    """Stretches [start, end) of a path (frames,) in Hz between its gaps and its jumps, as indices.

    A jump is a rise by more than a third within 2 s among speeds above 4 Hz (for washers), or such
    a fall with a rise after it: a coasting drum falls as fast, but does not come back.
    """
    ahead = max(1, round(pace.jump_s / (t_s[1] - t_s[0])))
    stretches, start, n = [], 0, len(f_hz)
    i = 0
    while i < n:
        later = f_hz[min(i + ahead, n - 1)]
        # A coasting drum falls as fast, but does not come back.
        comes_back = np.max(f_hz[i + ahead : i + 6 * ahead], initial=0.0) > 1.06 * later
        jumps = min(f_hz[i], later) > pace.jump_above_hz and (
            np.log(later / f_hz[i]) > JUMP_LOG
            or (comes_back and np.log(later / f_hz[i]) < -JUMP_LOG)
        )
        if np.isnan(f_hz[i]) or jumps:
            if i > start:
                stretches.append((start, i))
            i += ahead if jumps else 1
            start = i
        else:
            i += 1
    if n > start:
        stretches.append((start, n))
    return stretches


def corrected_harmonics(
    f_hz: Floats, t_s: Floats, score: Floats, candidates_hz: Floats, pace: Pace = WASHER_PACE
) -> Floats:
    """Put stretches that ran on a harmonic back on the fundamental; (frames,) in Hz.

    Each stretch may be halved, kept or doubled; the choice trades the comb score along the path
    against the jumps left between the stretches.
    """
    stretches = continuous_stretches(f_hz, t_s, pace)
    # Kept first, so that a tie leaves the track as it is.
    scales = np.array([1.0, 0.5, 2.0])
    total, choices = np.zeros(3), []
    for number, (a, b) in enumerate(stretches):
        here = np.arange(a, b)
        gain = np.array([_along(scale * f_hz[a:b], here, score, candidates_hz) for scale in scales])
        if number and t_s[a] - t_s[stretches[number - 1][1] - 1] < 4.0:
            before = f_hz[stretches[number - 1][1] - 1]
            step = np.abs(np.log(np.outer(scales, 1 / scales) * f_hz[a] / before))
            options = total[None, :] - JUMP_COST * np.maximum(step - JUMP_FREE_LOG, 0)
        else:
            climb = np.log(np.maximum(scales * f_hz[a] / START_FREE_HZ, 1)) if a else np.zeros(3)
            options = np.repeat(total[None, :], 3, axis=0) - START_COST * climb[:, None]
        choices.append(np.argmax(options, axis=1))
        total = options.max(axis=1) + gain
    corrected, pick = f_hz.copy(), int(np.argmax(total))
    for (a, b), choice in zip(reversed(stretches), reversed(choices), strict=True):
        corrected[a:b] *= scales[pick]
        pick = int(choice[pick])
    return corrected


def without_strays(f_hz: Floats, t_s: Floats, power: Floats, pace: Pace = WASHER_PACE) -> Floats:
    """Take out what is faint (almost without power) of stretches that are mostly so, as NaN.

    Only of stretches that join neither neighbour: knocks at tumbling speed can look like a fast
    drum, and a drum gets to speed by climbing.
    """
    stretches = continuous_stretches(f_hz, t_s, pace)
    loud = float(np.quantile(power, 0.95))
    kept = f_hz.copy()
    for number, (a, b) in enumerate(stretches):
        # Where nothing is near, compare with a tumbling drum of 96 rpm.
        before = (
            f_hz[stretches[number - 1][1] - 1]
            if number and a - stretches[number - 1][1] < 9
            else 1.6
        )
        after = f_hz[stretches[number + 1][0]] if number + 1 < len(stretches) else 1.6
        joins = [
            abs(np.log(f_hz[a] / before)) < JUMP_LOG,
            abs(np.log(f_hz[b - 1] / after)) < JUMP_LOG,
        ]
        faint = (power[a:b] < FAINT_SHARE * loud) & (f_hz[a:b] > START_FREE_HZ)
        if np.median(f_hz[a:b]) > START_FREE_HZ and not any(joins) and np.mean(faint) > 0.5:
            # A hum followed for minutes before the spin must not take the spin away with it.
            kept[a:b][faint] = np.nan
    return kept


def _along(
    path_hz: Floats, frames: NDArray[np.int64], score: Floats, candidates_hz: Floats
) -> float:
    """Sum of the score along a path in Hz; -inf where it leaves the candidates."""
    if path_hz.min() < candidates_hz[0] or path_hz.max() > candidates_hz[-1] + STEP_HZ:
        return -np.inf
    column = np.clip(
        np.round((path_hz - candidates_hz[0]) / STEP_HZ).astype(int), 0, len(candidates_hz) - 1
    )
    return float(score[frames, column].sum())
