"""How well each speed explains a short spectrum: a comb of orders over a local floor.

The floor is half that of the whole spectrum and half that of the neighbourhood: a panel mode, which
lifts a whole region, lifts the lines in it less, and the many lines of a knocking machine do not
drown each other.
"""

import numpy as np

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.uniform import Spectrogram

# Order and weight in the comb: the first counts most; the half order, of belts and loose parts,
# only supports. Scores are in decades of power over the floor, weighted (estimates, kept because
# they did best on rehearsed machines).
ORDERS = ((1.0, 1.0), (2.0, 0.45), (3.0, 0.25), (0.5, 0.15))
# A folded line counts less: images of other tones land there too.
FOLDED_SHARE = 0.5
# The floor is the median of five medians over 2 Hz: wider than a line, narrower than a panel mode.
FLOOR_HZ = 2.0
# Only below 160 rpm can laundry fall and knock, which makes a dense comb of lines.
SLOW_BELOW_HZ = 2.7
SLOW_WEIGHT = 0.4


def alias_hz(f_hz: Floats, rate_hz: float) -> Floats:
    """Frequency in Hz at which tones (n,) in Hz appear when sampled at ``rate_hz``."""
    return np.abs((f_hz + rate_hz / 2) % rate_hz - rate_hz / 2)


def contrast(spectrum: Spectrogram) -> Floats:
    """log10 of power over the floor of its frame, its median; (frames, bins)."""
    floor = np.median(spectrum.power, axis=1, keepdims=True)
    # A floor under the floor: digital silence must not give infinite contrast.
    quiet = np.median(floor) * 1e-2 + 1e-12
    return np.log10((spectrum.power + quiet) / (floor + quiet))


def local_contrast(spectrum: Spectrogram) -> Floats:
    """log10 of power over the mean of two floors, its frame's and that of 5 Hz to each side."""
    level = np.log10(spectrum.power + 1e-13)
    width = max(1, round(FLOOR_HZ / float(spectrum.f_hz[1])))
    blocks = max(1, level.shape[1] // width)
    medians = np.median(level[:, : blocks * width].reshape(len(level), blocks, -1), axis=2)
    views = np.lib.stride_tricks.sliding_window_view(
        np.pad(medians, ((0, 0), (2, 2)), mode="edge"), 5, axis=1
    )
    middle = np.median(views, axis=2)
    place = np.clip((np.arange(level.shape[1]) - (width - 1) / 2) / width, 0, blocks - 1)
    low = np.minimum(place.astype(int), max(0, blocks - 2))
    part = place - low
    floor = middle[:, low] * (1 - part) + middle[:, np.minimum(low + 1, blocks - 1)] * part
    # A floor under the floor: digital silence must not give infinite contrast.
    local = level - np.maximum(floor, np.median(floor) - 1.5)
    mean: Floats = (local + contrast(spectrum)) / 2
    return mean


def comb_score(contrasts: Floats, candidates_hz: Floats, bin_hz: float, rate_hz: float) -> Floats:
    """Score (frames, candidates) of each speed in Hz: weighted contrasts at its orders."""
    total = np.zeros((len(contrasts), len(candidates_hz)))
    for order, weight in ORDERS:
        share = np.where(order * candidates_hz > rate_hz / 2, FOLDED_SHARE * weight, weight)
        total += share * _at(contrasts, order * candidates_hz, bin_hz, rate_hz)
    return total


def _at(contrasts: Floats, f_hz: Floats, bin_hz: float, rate_hz: float) -> Floats:
    """Contrasts (frames, n) of at least 0 where tones (n,) in Hz appear; 0 beyond the last bin."""
    last = contrasts.shape[1] - 1
    at = alias_hz(f_hz, rate_hz) / bin_hz
    low = np.minimum(at.astype(int), last - 1)
    part = at - low
    value = contrasts[:, low] * (1 - part) + contrasts[:, low + 1] * part
    return np.where(at <= last - 1, np.maximum(value, 0), 0.0)


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
