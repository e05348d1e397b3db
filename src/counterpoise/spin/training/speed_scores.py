"""How well the drum's speed is told on rehearsed machines, whose true speed is known."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.speed_tracking import SpeedTrack

# A true plateau: so long, so steady, faster than laundry tumbles.
LEAST_S, STEADY, LEAST_RPM = 4.0, 0.006, 250.0
RIGHT = 0.01
# Further away than this no speed was told for the plateau.
TOLD_WITHIN_S = 1.0
# Told against true, and how a mistake of that ratio is called; nearer than 6 % is a little off.
RATIOS = ((2.0, "twice"), (3.0, "three times"), (0.5, "half"), (1 / 3, "a third"), (1.5, "3 to 2"),
          (2 / 3, "2 to 3"))  # fmt: skip
NEAR, LITTLE = 0.03, 0.06
RIGHTLY, NOT_TOLD, A_LITTLE, ELSEWHERE = "right", "not told", "a little off", "elsewhere"


@dataclass(frozen=True)
class ToldPlateau:
    """A true plateau by its middle in s and its speed, and the speed told there in rpm (or NaN)."""

    at_s: float
    true_rpm: float
    told_rpm: float

    @property
    def outcome(self) -> str:
        """``right`` within 1 %, else the class of the mistake."""
        ratio = self.told_rpm / self.true_rpm
        # Nothing told is no wrong word: it is counted apart.
        if np.isnan(ratio):
            return NOT_TOLD
        if abs(ratio - 1) <= RIGHT:
            return RIGHTLY
        if abs(ratio - 1) <= LITTLE:
            return A_LITTLE
        return next((name for r, name in RATIOS if abs(ratio / r - 1) <= NEAR), ELSEWHERE)


def true_plateaus(truth: Floats) -> list[tuple[float, float]]:
    """Middle in s and mean rpm of the steady stretches of a true speed (2, n): s, rpm."""
    t, rpm = truth[0], np.abs(truth[1])
    out, start = [], 0
    while start < len(t):
        end = start
        # Against its first value: a slow climb is no plateau.
        while end + 1 < len(t) and abs(rpm[end + 1] - rpm[start]) < STEADY * max(rpm[start], 1.0):
            end += 1
        if rpm[start] > LEAST_RPM and t[end] - t[start] >= LEAST_S:
            middle = float(t[start] + t[end]) / 2
            out.append((middle, float(np.mean(rpm[start : end + 1]))))
        start = max(end, start) + 1
    return out


def told_plateaus(track: SpeedTrack, truth: Floats) -> list[ToldPlateau]:
    """What a track tells in the middle of each true plateau within it."""
    known = np.isfinite(track.f_hz)
    t, rpm = track.t_s[known], 60 * track.f_hz[known]
    out = []
    for at, true in true_plateaus(truth):
        # The true speed goes on where a recording was cut short.
        if at > track.t_s[-1]:
            continue
        near = int(np.argmin(np.abs(t - at))) if len(t) else -1
        told = near >= 0 and abs(t[near] - at) <= TOLD_WITHIN_S
        out.append(ToldPlateau(at, true, float(rpm[near]) if told else float("nan")))
    return out


def wrong_share(track: SpeedTrack, truth: Floats) -> float:
    """Share of the frames in which a speed above 200 rpm is told that is more than 5 % wrong."""
    # Where nothing is told the comparison is with NaN, which is never more.
    told, true = 60 * track.f_hz, np.interp(track.t_s, truth[0], np.abs(truth[1]))
    return float(np.mean((told > 200) & (np.abs(told - true) > 0.05 * true)))


def speed_text(plateaus: Iterable[ToldPlateau]) -> str:
    """Share told within 1 %, and how often each mistake was made, in a line."""
    count = Counter(each.outcome for each in plateaus)
    total = count.total()
    # What is left are mistakes, the most frequent first.
    right = count.pop(RIGHTLY, 0)
    mistakes = ", ".join(f"{name} {number}" for name, number in count.most_common())
    return (
        f"{right} of {total} plateaus within 1 % ({100 * right / max(total, 1):.1f} %): {mistakes}"
    )
