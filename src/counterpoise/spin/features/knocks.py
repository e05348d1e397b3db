"""Knocks while the drum turns slowly: short blows that stand out of the quick part."""

from dataclasses import dataclass

import numpy as np
from scipy import signal as filters

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.phases import Course
from counterpoise.spin.speed.uniform import UprightSignal

# Well above the turning of a tumbling drum (1 Hz) and the swinging of the tub (2 to 6 Hz).
ABOVE_HZ = 8.0
# A knock stands out by this factor over the median of the quick part (estimate).
TIMES_USUAL = 5.0
# A blow rings on for about a tenth of a second; what follows within is the same blow.
APART_S = 0.12


@dataclass(frozen=True)
class Knocks:
    """Knocks during tumbling and distribution: times in s, rate a second and a turn.

    ``crest`` is the ratio of the strongest to the usual of the quick part, at least 1;
    ``high_rms_ms2`` its rms in m/s2; ``per_turn`` NaN where the drum was not followed.
    """

    t_s: tuple[float, ...]
    per_second: float
    per_turn: float
    crest: float
    high_rms_ms2: float


NO_KNOCKS = Knocks((), 0.0, float("nan"), 1.0, 0.0)


def quick_part(signal: UprightSignal) -> Floats:
    """Size (n,) in m/s2 of what moves faster than 8 Hz, over all axes."""
    # Too slow a phone shows nothing above 8 Hz that could be trusted.
    if signal.rate_hz < 2.5 * ABOVE_HZ:
        return np.zeros(signal.acc_ms2.shape[1])
    sections = filters.butter(2, ABOVE_HZ, "highpass", fs=signal.rate_hz, output="sos")
    quick = np.asarray(filters.sosfilt(sections, signal.acc_ms2, axis=1), dtype=np.float64)
    size: Floats = np.sqrt(np.sum(quick**2, axis=0))
    return size


def find_knocks(
    signal: UprightSignal, frame_t_s: Floats, course: Course, track_hz: Floats
) -> Knocks:
    """Knocks before the first run-up, where the drum turns slowly; none in under 8 frames (2 s)."""
    run = np.flatnonzero(course.phase >= 3)
    # Not the last three frames: their windows reach into the run-up already.
    slow_frames = np.arange(len(course.phase)) < (run[0] - 3 if len(run) else len(course.phase))
    if slow_frames.sum() < 8:
        return NO_KNOCKS
    t = np.arange(signal.acc_ms2.shape[1]) / signal.rate_hz
    slow = slow_frames[np.clip(np.searchsorted(frame_t_s, t), 0, len(frame_t_s) - 1)]
    size = quick_part(signal)
    usual = float(np.median(size[slow])) + 1e-6
    high_rms = float(np.sqrt(np.mean(size[slow] ** 2)))
    peaks, _ = filters.find_peaks(
        np.where(slow, size, 0),
        height=TIMES_USUAL * usual + 0.02,
        distance=max(1, int(APART_S * signal.rate_hz)),
    )
    seconds = slow.sum() / signal.rate_hz
    turning = track_hz[slow_frames & np.isfinite(track_hz)]
    rate = len(peaks) / seconds
    per_turn = rate / float(np.median(turning)) if len(turning) > 8 else float("nan")
    # Not the very peak: one bump by a hand in 8 minutes at 100 Hz is not the machine.
    crest = float(np.quantile(size[slow], 0.998)) / usual
    return Knocks(
        tuple(np.round(t[peaks], 2).tolist()), float(rate), per_turn, max(crest, 1.0), high_rms
    )
