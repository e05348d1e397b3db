"""Drum speed against time.

A ridge is followed through the short spectra with dynamic programming. What is scored is not the strongest
line but a comb: the speed's own line and its second, third and half order, each folded at half the sample
rate. A speed whose second order is stronger than its first still wins over its double, because the double
leaves the lower line unexplained. Lines that stand still through the whole recording (pump, mains, their
folded images) count little. The speed may change by at most about 190 rpm a second.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.uniform import TOP_HZ, Spectra

LOWEST_HZ = 0.9
STEP_HZ = 0.1
MOST_STEPS = 8
UNTOLD_TOP_RPM = 1900.0
ORDERS = ((1.0, 1.0), (2.0, 0.45), (3.0, 0.25), (0.5, 0.15))
STEP_COST = 0.04
SWITCH_COST = 4.0
SWITCH_COST_PER_HZ = 0.6
OFF_SCORE = 1.3
JUMP_ABOVE_HZ = 4.0
JUMP_LOG = 0.33
JUMP_COST = 400.0
JUMP_FREE_LOG = 0.25
START_COST = 40.0
START_FREE_HZ = 3.5
SLOW_BELOW_HZ = 2.7
SLOW_WEIGHT = 0.4
QUIET_SHARE = 0.03


@dataclass(frozen=True)
class Track:
    """Speed at each frame in Hz, NaN where no turning drum is seen; ``lines_hz`` stand still all the time."""

    t_s: Floats
    f_hz: Floats
    lines_hz: Floats


def fold(f_hz: Floats, rate_hz: float) -> Floats:
    """Where a tone of frequency f appears when sampled at ``rate_hz``."""
    return np.abs((f_hz + rate_hz / 2) % rate_hz - rate_hz / 2)


def contrast(spectrum: Spectra) -> Floats:
    """log10 of power over the floor of its frame, (frames, bins); the floor is the frame's median."""
    floor = np.median(spectrum.power, axis=1, keepdims=True)
    quiet = np.median(floor) * 1e-2 + 1e-12
    return np.log10((spectrum.power + quiet) / (floor + quiet))


def constant_lines(contrasts: Floats) -> NDArray[np.bool_]:
    """Find the bins (bins,) that stand out in nearly all frames."""
    steady = np.quantile(contrasts, 0.12, axis=0)
    around = np.median(
        np.lib.stride_tricks.sliding_window_view(np.pad(steady, 10, mode="edge"), 21), axis=1
    )
    return steady > np.maximum(around, 0) + 0.7


def without_lines(contrasts: Floats, power: Floats, lines: NDArray[np.bool_]) -> Floats:
    """Contrasts in which a constant line counts only by what exceeds its own usual power.

    A tenth is kept, so that a recording of nothing but one steady speed still shows it.
    """
    reach = int(np.ceil(1.25 / (TOP_HZ / contrasts.shape[1])))
    wide = np.convolve(lines, np.ones(2 * reach + 1), mode="same") > 0
    usual = np.log10(np.quantile(power[:, wide], 0.5, axis=0) * 4 + 1e-12)
    above = np.minimum(contrasts[:, wide], np.log10(power[:, wide] + 1e-12) - usual)
    out = contrasts.copy()
    out[:, wide] = np.maximum(above, 0) + 0.1 * contrasts[:, wide]
    return out


def comb_score(contrasts: Floats, candidates_hz: Floats, bin_hz: float, rate_hz: float) -> Floats:
    """Score (frames, candidates) of each speed: weighted contrasts at its orders."""
    total = np.zeros((len(contrasts), len(candidates_hz)))
    last = contrasts.shape[1] - 1
    for order, weight in ORDERS:
        true = order * candidates_hz
        seen = fold(true, rate_hz) / bin_hz
        within = seen <= last - 1
        low = np.minimum(seen.astype(int), last - 1)
        part = seen - low
        value = contrasts[:, low] * (1 - part) + contrasts[:, low + 1] * part
        share = np.where(within, weight, 0.0) * np.where(true > rate_hz / 2, 0.4, 1.0)
        total += np.maximum(value, 0) * share
    return total


def slow_comb_score(contrasts: Floats, candidates_hz: Floats, bin_hz: float) -> Floats:
    """Score of slow speeds that show as a dense comb of knocks: many lines evenly spaced, little between."""
    slow = candidates_hz < SLOW_BELOW_HZ
    total = np.zeros((len(contrasts), len(candidates_hz)))
    last = contrasts.shape[1] - 1
    for order in range(1, 13):
        at = np.minimum(np.round(order * candidates_hz[slow] / bin_hz).astype(int), last)
        between = np.minimum(
            np.round((order - 0.5) * candidates_hz[slow] / bin_hz).astype(int), last
        )
        total[:, slow] += SLOW_WEIGHT * (contrasts[:, at] - contrasts[:, between])
    return total


def follow(score: Floats, candidates_hz: Floats) -> NDArray[np.int64]:
    """Best path through (frames, candidates); -1 where "nothing turns" scores better."""
    frames, count = score.shape
    steps = np.arange(-MOST_STEPS, MOST_STEPS + 1)
    cost = STEP_COST * np.abs(steps)
    switch = SWITCH_COST + SWITCH_COST_PER_HZ * candidates_hz
    best, off = score[0].copy(), OFF_SCORE
    came = np.empty((frames, count), dtype=np.int32)  # previous candidate, -1: from off
    came_off = np.empty(frames, dtype=np.int32)
    padded = np.full(count + 2 * MOST_STEPS, -np.inf)
    window = np.lib.stride_tricks.sliding_window_view(padded, 2 * MOST_STEPS + 1)
    rows = np.arange(count)
    for i in range(1, frames):
        padded[MOST_STEPS:-MOST_STEPS] = best
        options = window - cost
        choice = np.argmax(options, axis=1)
        stay = options[rows, choice]
        leave = best - switch
        end = int(np.argmax(leave))
        start = off - switch
        came[i] = np.where(stay >= start, rows + choice - MOST_STEPS, -1)
        came_off[i] = end if leave[end] > off else -1
        off = max(off, float(leave[end])) + OFF_SCORE
        best = np.maximum(stay, start) + score[i]
    path = np.empty(frames, dtype=np.int64)
    path[-1] = int(np.argmax(best)) if best.max() > off else -1
    for i in range(frames - 1, 0, -1):
        path[i - 1] = came_off[i] if path[i] < 0 else came[i, path[i]]
    return path


def split(f_hz: Floats, t_s: Floats) -> list[tuple[int, int]]:
    """Stretches [start, end) of a path between its gaps and its jumps.

    A jump is a rise by more than a third within 2 s among speeds above 4 Hz, or such a fall with a rise
    after it: a coasting drum falls as fast, but does not come back.
    """
    ahead = max(1, round(2.0 / (t_s[1] - t_s[0])))
    stretches, start, n = [], 0, len(f_hz)
    i = 0
    while i < n:
        later = f_hz[min(i + ahead, n - 1)]
        comes_back = np.max(f_hz[i + ahead : i + 4 * ahead], initial=0.0) > 1.25 * later
        jumps = min(f_hz[i], later) > JUMP_ABOVE_HZ and (
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


def mend(f_hz: Floats, t_s: Floats, score: Floats, candidates_hz: Floats) -> Floats:
    """Put stretches that ran on a harmonic back on the fundamental.

    Each stretch may be halved, kept or doubled; the choice trades the comb score along the path against
    the jumps left between the stretches.
    """
    stretches = split(f_hz, t_s)
    scales = np.array([1.0, 0.5, 2.0])
    total, choices = np.zeros(3), []
    for number, (a, b) in enumerate(stretches):
        here = np.arange(a, b)
        gain = np.array([_along(scale * f_hz[a:b], here, score, candidates_hz) for scale in scales])
        if number and t_s[a] - t_s[stretches[number - 1][1] - 1] < 4.0:
            before = f_hz[stretches[number - 1][1] - 1]
            step = np.abs(np.log(np.outer(scales, 1 / scales) * f_hz[a] / before))  # (now, before)
            options = total[None, :] - JUMP_COST * np.maximum(step - JUMP_FREE_LOG, 0)
        else:
            climb = np.log(np.maximum(scales * f_hz[a] / START_FREE_HZ, 1)) if a else np.zeros(3)
            options = np.repeat(total[None, :], 3, axis=0) - START_COST * climb[:, None]
        choices.append(np.argmax(options, axis=1))
        total = options.max(axis=1) + gain
    mended, pick = f_hz.copy(), int(np.argmax(total))
    for (a, b), choice in zip(reversed(stretches), reversed(choices), strict=True):
        mended[a:b] *= scales[pick]
        pick = int(choice[pick])
    return mended


def drop_strays(f_hz: Floats, t_s: Floats, power: Floats) -> Floats:
    """Take out faint stretches (under 1 % of the spin's power) that join neither what is before nor after.

    Knocks at tumbling speed can look like a fast drum; a drum gets to speed by climbing.
    """
    stretches = split(f_hz, t_s)
    loud = float(np.quantile(power, 0.95))
    kept = f_hz.copy()
    for number, (a, b) in enumerate(stretches):
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
        if (
            np.median(f_hz[a:b]) > START_FREE_HZ
            and not any(joins)
            and np.median(power[a:b]) < 0.01 * loud
        ):
            kept[a:b] = np.nan
    return kept


def _along(
    path_hz: Floats, frames: NDArray[np.int64], score: Floats, candidates_hz: Floats
) -> float:
    if path_hz.min() < candidates_hz[0] or path_hz.max() > candidates_hz[-1] + STEP_HZ:
        return -np.inf
    column = np.clip(
        np.round((path_hz - candidates_hz[0]) / STEP_HZ).astype(int), 0, len(candidates_hz) - 1
    )
    return float(score[frames, column].sum())


def track_speed(spectrum: Spectra, rate_hz: float, top_rpm: float | None = None) -> Track:
    """Follow the drum through the spectra; ``top_rpm``: the programme's spin speed where it is known."""
    contrasts = contrast(spectrum)
    lines = constant_lines(contrasts)
    contrasts = without_lines(contrasts, spectrum.power, lines) if lines.any() else contrasts
    top_hz = min((1.07 * top_rpm if top_rpm else UNTOLD_TOP_RPM) / 60, 0.95 * rate_hz)
    candidates = np.arange(LOWEST_HZ, top_hz, STEP_HZ)
    score = comb_score(contrasts, candidates, spectrum.f_hz[1], rate_hz)
    power = spectrum.power.sum(axis=1)
    quiet = power < QUIET_SHARE * np.quantile(power, 0.95)  # tumbling; a fast drum shows plainly
    score[quiet] = np.maximum(score, slow_comb_score(contrasts, candidates, spectrum.f_hz[1]))[
        quiet
    ]
    path = follow(score, candidates)
    f = np.where(path >= 0, candidates[path], np.nan)
    mended = mend(f, spectrum.t_s, score, candidates)
    kept = drop_strays(mended, spectrum.t_s, power)
    return Track(spectrum.t_s, kept, spectrum.f_hz[lines])
