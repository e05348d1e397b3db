"""Drum speed against time, without a tachometer.

A ridge is followed through the short spectra with dynamic programming. What is scored is not the
strongest line but a comb over a local floor. The rest is physics: a drum gets to speed by climbing
and away from it by coasting, so a path that appears or vanishes at speed in mid-file costs more
than any harmonic can earn; a line of the house may be louder than the drum, but it neither climbs
nor coasts: it still stands where the drum has left. So a long hold alone is no line of the house.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.kind import OVERSHOOT, WASHER_PACE, Pace
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.best_path import best_path
from counterpoise.spin.speed.comb import (
    SLOW_BELOW_HZ,
    comb_score,
    contrast,
    local_contrast,
    slow_comb_score,
)
from counterpoise.spin.speed.harmonics import STEP_HZ, corrected_harmonics, without_strays
from counterpoise.spin.speed.steady_lines import constant_lines, stands_while_moving, without_lines
from counterpoise.spin.speed.uniform import Spectrogram

# 54 rpm: slower, a turn is longer than half a window and shows as no line.
LOWEST_HZ = 0.9
# Of the loud part's power: only there tumbling can be what is heard.
QUIET_SHARE = 0.03
# A path moves where it changes by this much in Hz a second; the slowest climb measured was 0.15.
MOVES_HZ_PER_S = 0.12
# Slower, laundry falls and the tub swings: no spin that a line could be mistaken for.
MOVES_ABOVE_HZ = 4.0
# A speed that goes up and down by more than this share of itself within 8 s is no drum's.
WANDER_S = 8.0
MOST_WANDER = 0.35
# Confidence from the comb's score, averaged over 3 s: half at CONFIDENT_AT (rehearsed).
CONFIDENT_AT = 1.4
CONFIDENT_WIDTH = 0.6
CONFIDENCE_S = 3.0
# A stretch begins and ends where it is at least this sure.
END_CONFIDENCE = 0.35


@dataclass(frozen=True)
class SpeedTrack:
    """Speed (frames,) in Hz, NaN where no turning drum is seen.

    ``lines_hz`` are the frequencies of bins that stand still all the time; empty where there are
    none. ``confidence`` (frames,) is the chance, 0 to 1, that the speed is right; empty if unknown.
    """

    t_s: Floats
    f_hz: Floats
    lines_hz: Floats
    confidence: Floats = field(default_factory=lambda: np.empty(0))


def track_speed(
    spectrum: Spectrogram,
    rate_hz: float,
    top_rpm: float | None = None,
    pace: Pace = WASHER_PACE,
) -> SpeedTrack:
    """Follow the drum; ``top_rpm``: the programme's spin speed in rpm, None if unknown."""
    # A drum near the sample rate itself would fold onto standstill.
    top_hz = min((OVERSHOOT * top_rpm if top_rpm else pace.untold_rpm) / 60, 0.95 * rate_hz)
    candidates = np.arange(LOWEST_HZ, top_hz, STEP_HZ)
    bin_hz = float(spectrum.f_hz[1])
    power = spectrum.power.sum(axis=1)
    quiet = power < QUIET_SHARE * np.quantile(power, 0.95)  # tumbling; a fast drum shows plainly
    by_frame, local = contrast(spectrum), local_contrast(spectrum)
    below = candidates < SLOW_BELOW_HZ
    slow = slow_comb_score(by_frame, candidates, bin_hz)

    def follow(contrasts: Floats) -> tuple[Floats, Floats]:
        score = comb_score(contrasts, candidates, bin_hz, rate_hz)
        # So near standstill the neighbourhood is the drum's own comb: only its frame's floor holds.
        score[:, below] = comb_score(by_frame, candidates[below], bin_hz, rate_hz)
        score[quiet] = np.maximum(score, slow)[quiet]
        path = best_path(score, candidates, pace)
        return np.where(path >= 0, candidates[path], np.nan), score

    f, score = follow(local)
    lines = constant_lines(by_frame)
    if lines.any():
        lines &= stands_while_moving(local, bin_hz, f, moving_frames(f), rate_hz)
    if lines.any():
        f, score = follow(without_lines(local, spectrum.power, lines, pace.spectrum_hz))
    corrected = corrected_harmonics(f, spectrum.t_s, score, candidates, pace)
    kept = without_strays(corrected, spectrum.t_s, power, pace)
    confidence = speed_confidence(kept, score, candidates, spectrum.t_s)
    kept = without_faint_ends(kept, confidence)
    return SpeedTrack(
        spectrum.t_s, kept, spectrum.f_hz[lines], np.where(np.isnan(kept), 0.0, confidence)
    )


def without_faint_ends(f_hz: Floats, confidence: Floats) -> Floats:
    """Cut the ends of each stretch that are but a bridge into nothing, as NaN."""
    kept = f_hz.copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.isfinite(f_hz), [0]])))
    for a, b in edges.reshape(-1, 2):
        sure = np.flatnonzero(confidence[a:b] >= END_CONFIDENCE)
        first, last = (sure[0], sure[-1] + 1) if len(sure) else (0, 0)
        kept[a : a + first] = np.nan
        kept[a + last : b] = np.nan
    return kept


def path_score(f_hz: Floats, score: Floats, candidates_hz: Floats) -> Floats:
    """Score (frames,) along a path in Hz, 0 where there is none."""
    place = np.round((np.nan_to_num(f_hz) - candidates_hz[0]) / STEP_HZ).astype(int)
    column = np.clip(place, 0, len(candidates_hz) - 1)
    along: Floats = np.where(np.isfinite(f_hz), score[np.arange(len(score)), column], 0.0)
    return along


def moving_frames(f_hz: Floats) -> NDArray[np.bool_]:
    """Frames (frames,) in which a path in Hz climbs or coasts."""
    smooth = np.convolve(np.pad(np.nan_to_num(f_hz), 2, mode="edge"), np.full(5, 0.2), mode="valid")
    # A hop is a quarter of a second.
    moves = np.abs(np.gradient(smooth)) * 4 > MOVES_HZ_PER_S
    flags: NDArray[np.bool_] = moves & np.isfinite(f_hz) & (np.nan_to_num(f_hz) > MOVES_ABOVE_HZ)
    return flags


def wander(f_hz: Floats, t_s: Floats) -> Floats:
    """Way (frames,) that a speed goes up and down over 8 s less its net change, as a share of it.

    A drum climbs, holds or coasts; a path through knocks does all three at once.
    """
    known = np.isfinite(f_hz)
    if not known.any():
        return np.zeros(len(f_hz))
    filled = np.interp(t_s, t_s[known], f_hz[known])
    smooth = np.convolve(np.pad(filled, 2, mode="edge"), np.full(5, 0.2), mode="valid")
    reach = max(1, round(WANDER_S / 2 / float(t_s[1] - t_s[0])))
    way = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(smooth)))])
    a, b = np.arange(len(way)) - reach, np.arange(len(way)) + reach
    a, b = np.maximum(a, 0), np.minimum(b, len(way) - 1)
    excess: Floats = (way[b] - way[a] - np.abs(smooth[b] - smooth[a])) / np.maximum(smooth, 1.0)
    return excess


def speed_confidence(f_hz: Floats, score: Floats, candidates_hz: Floats, t_s: Floats) -> Floats:
    """Chance (frames,) that the speed is right, from the comb's score over 3 s; 0 at gaps."""
    along = path_score(f_hz, score, candidates_hz)
    frames = max(1, round(CONFIDENCE_S / float(t_s[1] - t_s[0]))) | 1
    mean = np.convolve(
        np.pad(along, frames // 2, mode="edge"), np.full(frames, 1 / frames), mode="valid"
    )
    sure = 1 / (1 + np.exp(-(mean - CONFIDENT_AT) / CONFIDENT_WIDTH))
    sure = sure / (1 + (wander(f_hz, t_s) / MOST_WANDER) ** 4)
    return np.where(np.isfinite(f_hz), sure, 0.0)
