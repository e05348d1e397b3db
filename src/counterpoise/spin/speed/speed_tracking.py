"""Drum speed against time.

A ridge is followed through the short spectra with dynamic programming. What is scored is not the
strongest line but a comb: the speed's own line and its second, third and half order, each folded at
half the sample rate. A speed whose second order is stronger than its first still wins over its
double, because the double leaves the lower line unexplained. Lines that stand still through the
whole recording (pump, mains, their folded images) count little. The speed may change by at most
about 190 rpm a second.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.uniform import TOP_HZ, Spectrogram

# 54 rpm: slower, a turn is longer than half a window and shows as no line.
LOWEST_HZ = 0.9
STEP_HZ = 0.1
# In a hop of 0.25 s: 0.8 Hz, 190 rpm a second; hard braking is 150 (estimate).
MOST_STEPS = 8
# No household machine spins faster (common practice: 1600).
UNTOLD_TOP_RPM = 1900.0
# Order and weight in the comb. The first counts most; the half order, of belts and loose
# parts, only supports. Scores are in decades of power over the floor, weighted (estimates).
ORDERS = ((1.0, 1.0), (2.0, 0.45), (3.0, 0.25), (0.5, 0.15))
# Cost of changing speed by one step of 0.1 Hz from frame to frame, in the same decades.
STEP_COST = 0.04
# Cost of a drum that appears or is lost; more at speed, for a drum gets there by climbing.
SWITCH_COST = 4.0
SWITCH_COST_PER_HZ = 0.6
# Score of "nothing turns": a comb must beat it by more than noise does.
OFF_SCORE = 1.3
# What counts as a jump between orders: a third up or down within 2 s, above 240 rpm.
JUMP_ABOVE_HZ = 4.0
JUMP_LOG = 0.33
# So high that a jump is left only where halving or doubling cannot close it.
JUMP_COST = 400.0
JUMP_FREE_LOG = 0.25
# A stretch after a gap may begin at 210 rpm for nothing; beyond, each factor costs.
START_COST = 40.0
START_FREE_HZ = 3.5
# Only below 160 rpm can laundry fall and knock, which makes a dense comb of lines.
SLOW_BELOW_HZ = 2.7
SLOW_WEIGHT = 0.4
# Of the loud part's power: only there tumbling can be what is heard.
QUIET_SHARE = 0.03


@dataclass(frozen=True)
class SpeedTrack:
    """Speed (frames,) in Hz, NaN where no turning drum is seen.

    ``lines_hz`` are the frequencies of bins that stand still all the time; empty where there are
    none.
    """

    t_s: Floats
    f_hz: Floats
    lines_hz: Floats


def alias_hz(f_hz: Floats, rate_hz: float) -> Floats:
    """Frequency in Hz at which tones (n,) in Hz appear when sampled at ``rate_hz``."""
    return np.abs((f_hz + rate_hz / 2) % rate_hz - rate_hz / 2)


def contrast(spectrum: Spectrogram) -> Floats:
    """log10 of power over the floor of its frame, its median; (frames, bins)."""
    floor = np.median(spectrum.power, axis=1, keepdims=True)
    # A floor under the floor: digital silence must not give infinite contrast.
    quiet = np.median(floor) * 1e-2 + 1e-12
    return np.log10((spectrum.power + quiet) / (floor + quiet))


def constant_lines(contrasts: Floats) -> NDArray[np.bool_]:
    """Find the bins (bins,) that stand out in nearly all frames."""
    # In 88 % of the frames it stands out: a drum changes speed, a pump does not.
    steady = np.quantile(contrasts, 0.12, axis=0)
    around = np.median(
        np.lib.stride_tricks.sliding_window_view(np.pad(steady, 10, mode="edge"), 21), axis=1
    )
    return steady > np.maximum(around, 0) + 0.7


def without_lines(contrasts: Floats, power: Floats, lines: NDArray[np.bool_]) -> Floats:
    """Contrasts (frames, bins) where a constant line counts by what exceeds its usual power.

    A tenth is kept, so that a recording of nothing but one steady speed still shows it.
    """
    # The Hann window spreads a line by 1 Hz to each side; a quarter more for drift.
    reach = int(np.ceil(1.25 / (TOP_HZ / contrasts.shape[1])))
    wide = np.convolve(lines, np.ones(2 * reach + 1), mode="same") > 0
    usual = np.log10(np.quantile(power[:, wide], 0.5, axis=0) * 4 + 1e-12)
    above = np.minimum(contrasts[:, wide], np.log10(power[:, wide] + 1e-12) - usual)
    out = contrasts.copy()
    out[:, wide] = np.maximum(above, 0) + 0.1 * contrasts[:, wide]
    return out


def comb_score(contrasts: Floats, candidates_hz: Floats, bin_hz: float, rate_hz: float) -> Floats:
    """Score (frames, candidates) of each speed in Hz: weighted contrasts at its orders."""
    total = np.zeros((len(contrasts), len(candidates_hz)))
    last = contrasts.shape[1] - 1
    for order, weight in ORDERS:
        true = order * candidates_hz
        at = alias_hz(true, rate_hz) / bin_hz
        # Beyond the highest bin nothing can be read; a folded line counts less, as images of
        # other tones land there too.
        within = at <= last - 1
        low = np.minimum(at.astype(int), last - 1)
        part = at - low
        value = contrasts[:, low] * (1 - part) + contrasts[:, low + 1] * part
        share = np.where(within, weight, 0.0) * np.where(true > rate_hz / 2, 0.4, 1.0)
        total += np.maximum(value, 0) * share
    return total


def slow_comb_score(contrasts: Floats, candidates_hz: Floats, bin_hz: float) -> Floats:
    """Score (frames, candidates) of slow speeds that show as a dense comb of knocks.

    Many lines evenly spaced count, less what lies between them; 0 from 160 rpm up.
    """
    slow = candidates_hz < SLOW_BELOW_HZ
    total = np.zeros((len(contrasts), len(candidates_hz)))
    last = contrasts.shape[1] - 1
    # Twelve lines, less what lies half way between them: noise scores nothing.
    for order in range(1, 13):
        at = np.minimum(np.round(order * candidates_hz[slow] / bin_hz).astype(int), last)
        between = np.minimum(
            np.round((order - 0.5) * candidates_hz[slow] / bin_hz).astype(int), last
        )
        total[:, slow] += SLOW_WEIGHT * (contrasts[:, at] - contrasts[:, between])
    return total


def best_path(score: Floats, candidates_hz: Floats) -> NDArray[np.int64]:
    """Best path (frames,) through (frames, candidates); -1 where "nothing turns" scores better."""
    frames, count = score.shape
    steps = np.arange(-MOST_STEPS, MOST_STEPS + 1)
    cost = STEP_COST * np.abs(steps)
    switch = SWITCH_COST + SWITCH_COST_PER_HZ * candidates_hz
    best, off = score[0].copy(), OFF_SCORE
    # -1 stands for "off", nothing turning.
    came = np.empty((frames, count), dtype=np.int32)
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


def continuous_stretches(f_hz: Floats, t_s: Floats) -> list[tuple[int, int]]:
    """Stretches [start, end) of a path (frames,) in Hz between its gaps and its jumps, as indices.

    A jump is a rise by more than a third within 2 s among speeds above 4 Hz, or such a fall with a
    rise after it: a coasting drum falls as fast, but does not come back.
    """
    ahead = max(1, round(2.0 / (t_s[1] - t_s[0])))
    stretches, start, n = [], 0, len(f_hz)
    i = 0
    while i < n:
        later = f_hz[min(i + ahead, n - 1)]
        # A coasting drum falls as fast, but does not come back.
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


def corrected_harmonics(f_hz: Floats, t_s: Floats, score: Floats, candidates_hz: Floats) -> Floats:
    """Put stretches that ran on a harmonic back on the fundamental; (frames,) in Hz.

    Each stretch may be halved, kept or doubled; the choice trades the comb score along the path
    against the jumps left between the stretches.
    """
    stretches = continuous_stretches(f_hz, t_s)
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


def without_strays(f_hz: Floats, t_s: Floats, power: Floats) -> Floats:
    """Take out faint stretches (under 1 % of the spin's power) that join neither neighbour, as NaN.

    Knocks at tumbling speed can look like a fast drum; a drum gets to speed by climbing.
    """
    stretches = continuous_stretches(f_hz, t_s)
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
    """Sum of the score along a path in Hz; -inf where it leaves the candidates."""
    if path_hz.min() < candidates_hz[0] or path_hz.max() > candidates_hz[-1] + STEP_HZ:
        return -np.inf
    column = np.clip(
        np.round((path_hz - candidates_hz[0]) / STEP_HZ).astype(int), 0, len(candidates_hz) - 1
    )
    return float(score[frames, column].sum())


def track_speed(spectrum: Spectrogram, rate_hz: float, top_rpm: float | None = None) -> SpeedTrack:
    """Follow the drum; ``top_rpm``: the programme's spin speed in rpm, None if unknown."""
    contrasts = contrast(spectrum)
    lines = constant_lines(contrasts)
    contrasts = without_lines(contrasts, spectrum.power, lines) if lines.any() else contrasts
    # 7 % over the programme: speeds overshoot, and the clocks of phones err by 1 to 2 %
    # (estimates). A
    # drum near the sample rate itself would fold onto standstill.
    top_hz = min((1.07 * top_rpm if top_rpm else UNTOLD_TOP_RPM) / 60, 0.95 * rate_hz)
    candidates = np.arange(LOWEST_HZ, top_hz, STEP_HZ)
    score = comb_score(contrasts, candidates, spectrum.f_hz[1], rate_hz)
    power = spectrum.power.sum(axis=1)
    quiet = power < QUIET_SHARE * np.quantile(power, 0.95)  # tumbling; a fast drum shows plainly
    score[quiet] = np.maximum(score, slow_comb_score(contrasts, candidates, spectrum.f_hz[1]))[
        quiet
    ]
    path = best_path(score, candidates)
    f = np.where(path >= 0, candidates[path], np.nan)
    corrected = corrected_harmonics(f, spectrum.t_s, score, candidates)
    kept = without_strays(corrected, spectrum.t_s, power)
    return SpeedTrack(spectrum.t_s, kept, spectrum.f_hz[lines])
