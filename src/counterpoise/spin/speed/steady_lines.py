"""Lines that do not belong to the drum: pump, mains, hum, and their folded images."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.kind import WASHER_PACE
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.comb import alias_hz

# Orders of the drum that may stand at a bin; within this many Hz a 2 s window cannot part them.
OWN_ORDERS = (0.5, 1.0, 2.0, 3.0, 4.0)
OWN_HZ = 1.5
# A line stands out by this much (decades), in this share of at least so many frames.
STANDS_OUT = 0.6
STANDS_SHARE = 0.6
LEAST_MOVING_FRAMES = 8
# A recording of a hold alone: one speed for so much of it, above 330 rpm, with an order that stands
# out by this much more, and no divisor of the mains (estimates).
HELD_SHARE = 0.6
LEAST_HELD_HZ = 5.5
ORDER_OUT = 0.4
MAINS_HZ = np.array([25.0, 30.0])
MAINS_SHARE = 0.012


def constant_lines(contrasts: Floats) -> NDArray[np.bool_]:
    """Find the bins (bins,) that stand out in nearly all frames."""
    # In 88 % of the frames it stands out: a drum changes speed, a pump does not.
    steady = np.quantile(contrasts, 0.12, axis=0)
    around = np.median(
        np.lib.stride_tricks.sliding_window_view(np.pad(steady, 10, mode="edge"), 21), axis=1
    )
    return steady > np.maximum(around, 0) + 0.7


def without_lines(
    contrasts: Floats,
    power: Floats,
    lines: NDArray[np.bool_],
    spectrum_hz: float = WASHER_PACE.spectrum_hz,
) -> Floats:
    """Contrasts (frames, bins) where a constant line counts by what exceeds its usual power.

    A tenth is kept, so that a recording of nothing but one steady speed still shows it. The bins
    reach up to ``spectrum_hz``.
    """
    # The Hann window spreads a line by 1 Hz to each side; a quarter more for drift.
    reach = int(np.ceil(1.25 / (spectrum_hz / contrasts.shape[1])))
    wide = np.convolve(lines, np.ones(2 * reach + 1), mode="same") > 0
    usual = np.log10(np.quantile(power[:, wide], 0.5, axis=0) * 4 + 1e-12)
    above = np.minimum(contrasts[:, wide], np.log10(power[:, wide] + 1e-12) - usual)
    out = contrasts.copy()
    out[:, wide] = np.maximum(above, 0) + 0.1 * contrasts[:, wide]
    return out


def stands_while_moving(
    contrasts: Floats, bin_hz: float, f_hz: Floats, moving: NDArray[np.bool_], rate_hz: float
) -> NDArray[np.bool_]:
    """Bins (bins,) that stand out while the drum climbs or coasts elsewhere.

    ``f_hz`` and ``moving`` (frames,) are a path and where it moves. If it hardly ever moves, as in
    a recording of a hold alone, true for all bins but those of a line with orders of its own.
    """
    if moving.sum() < LEAST_MOVING_FRAMES:
        return ~_of_one_drum(contrasts, bin_hz, f_hz, rate_hz)
    at = np.arange(contrasts.shape[1]) * bin_hz
    elsewhere = np.ones((int(moving.sum()), len(at)), dtype=np.bool_)
    for order in OWN_ORDERS:
        own = alias_hz(order * f_hz[moving], rate_hz)
        elsewhere &= np.abs(at - own[:, None]) > OWN_HZ
    count = elsewhere.sum(axis=0)
    standing = ((contrasts[moving] > STANDS_OUT) & elsewhere).sum(axis=0)
    stands: NDArray[np.bool_] = (count >= LEAST_MOVING_FRAMES) & (standing > STANDS_SHARE * count)
    return stands


def _of_one_drum(
    contrasts: Floats, bin_hz: float, f_hz: Floats, rate_hz: float
) -> NDArray[np.bool_]:
    """Bins (bins,) of a path (frames,) in Hz that holds one speed and shows further orders.

    A pump or a hum is a line alone, or one with a second order at a multiple of the mains.
    """
    at = np.arange(contrasts.shape[1]) * bin_hz
    known = np.isfinite(f_hz)
    if known.mean() < HELD_SHARE:
        return np.zeros(len(at), dtype=np.bool_)
    held = float(np.median(f_hz[known]))
    middle = np.median(contrasts, axis=0)
    strong = [
        float(middle[np.abs(at - alias_hz(np.array([order * held]), rate_hz)) < 0.5].max(initial=0))
        for order in (1.0, 2.0, 3.0)
    ]
    house = np.abs(held / MAINS_HZ - np.round(held / MAINS_HZ)) < MAINS_SHARE
    if held < LEAST_HELD_HZ or house.any() or strong[0] < STANDS_OUT or max(strong[1:]) < ORDER_OUT:
        return np.zeros(len(at), dtype=np.bool_)
    own = np.stack(
        [np.abs(at - alias_hz(np.array([order * held]), rate_hz)) < OWN_HZ for order in OWN_ORDERS]
    )
    return np.asarray(own.any(axis=0), dtype=np.bool_)
