"""Where the drum turned and could not be followed, in words instead of a guess."""

import numpy as np

from counterpoise.spin.recording import Floats, Note
from counterpoise.spin.speed.phases import runs
from counterpoise.spin.speed.speed_tracking import SpeedTrack

# Shorter gaps are bridged by eye (estimate).
LEAST_LOST_S = 3.0
# A drum seen at this speed next to a gap was turning in it too: none stops at once.
TURNING_RPM = 200.0
# At an end of the file only a drum well in its spin was surely turning.
SPINNING_RPM = 400.0
# Less sure than this, a speed is told but said to be doubtful.
DOUBTFUL = 0.4


def lost_stretches(track: SpeedTrack, before: Floats) -> list[tuple[float, float]]:
    """From and to in s of stretches where the drum turned but its speed is not sure.

    ``before`` (frames,) is the speed in Hz before doubtful stretches were taken out.
    """
    sure = np.isfinite(track.f_hz) & (track.confidence >= DOUBTFUL)
    rpm = 60 * np.nan_to_num(np.where(sure, track.f_hz, np.nan))
    doubted = 60 * np.nan_to_num(before) > TURNING_RPM
    stretches = []
    for start, end in runs(~sure):
        if track.t_s[end - 1] - track.t_s[start] < LEAST_LOST_S:
            continue
        left = rpm[start - 1] if start else 0.0
        right = rpm[end] if end < len(rpm) else 0.0
        inside = start > 0 and end < len(rpm)
        turned = min(left, right) > TURNING_RPM if inside else max(left, right) > SPINNING_RPM
        if turned or np.mean(doubted[start:end]) > 0.5:
            stretches.append((float(track.t_s[start]), float(track.t_s[end - 1])))
    return stretches


def lost_notes(stretches: list[tuple[float, float]]) -> tuple[Note, ...]:
    """One remark for each stretch of s in which the drum could not be followed."""
    return tuple(
        Note("drum_lost", f"Cannot follow the drum between {start:.0f} and {end:.0f} s.")
        for start, end in stretches
    )
