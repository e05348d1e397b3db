"""Orders of the drum speed: how strong 0.5x, 1x, 2x and 3x are, per axis, all through the spin.

The samples are turned back by the drum angle at their own times, so neither jitter nor
interpolation weakens a line. What is left when the orders are taken out, folded ones too, is the
broadband level.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats, Recording
from counterpoise.spin.speed.phase_refinement import aliases_onto, drum_angle
from counterpoise.spin.speed.speed_tracking import SpeedTrack
from counterpoise.spin.speed.uniform import rest_vector, windowed

ORDERS = (0.5, 1.0, 2.0, 3.0)
# Not claimed as orders, only taken out of the broadband level.
HIGHER = (4.0, 5.0)  # not claimed, only taken out of the broadband level
# Shorter than the window of the spectra: a known angle needs no long look.
WINDOW_S = 1.5


@dataclass(frozen=True)
class Orders:
    """Complex amplitudes in m/s2 (4 orders, axes, frames); NaN where an order cannot be claimed.

    Axes are side, front, up; ``f_hz`` (frames,) is the drum's speed. ``broadband_ms2`` (axes,
    frames) is the rms of all that is no order, ``rms_ms2`` (axes, frames) that of everything.
    """

    t_s: Floats
    f_hz: Floats
    amplitude: NDArray[np.complex128]
    broadband_ms2: Floats
    rms_ms2: Floats


def find_orders(recording: Recording, turn: Floats, track: SpeedTrack) -> Orders:
    """Amplitudes in m/s2 of the orders at each frame; ``turn`` (3, 3) sets them upright."""
    acc = turn @ (recording.acc_ms2 - rest_vector(recording)).T
    phase = drum_angle(recording.t_s, track)
    # Samples that stand for more time weigh more, so drop-outs do not bias an amplitude.
    acc = acc * _spacing(recording.t_s)
    length = min(max(8, int(WINDOW_S * recording.rate_hz)), acc.shape[1])
    window = np.hanning(length + 2)[1:-1]
    window /= window.sum()
    middle = np.searchsorted(recording.t_s, track.t_s)
    starts = np.clip(middle - length // 2, 0, acc.shape[1] - length)
    every = (*ORDERS, *HIGHER)
    back = _turned_back(phase)
    amplitude = np.stack([2 * windowed(acc * back[order], starts, window) for order in every])
    for row, order in enumerate(every):
        lost = np.isnan(track.f_hz)
        if order > 1:
            # Two lines that land on each other within two bins of the window cannot be told apart.
            lost |= aliases_onto(order, track.f_hz, recording.rate_hz, 2.0 / WINDOW_S)
        amplitude[row][:, lost] = np.nan
    acc = acc / _spacing(recording.t_s)
    mean = windowed(acc, starts, window)
    total = windowed(acc**2, starts, window) - mean**2
    in_orders = 0.5 * np.nansum(np.abs(amplitude) ** 2, axis=0)
    broadband = np.sqrt(np.maximum(total - in_orders, 0))
    # An image above half the rate is taken out of the rest, but its size is not claimed.
    claimed = amplitude[: len(ORDERS)]
    for row, order in enumerate(ORDERS):
        if order > 1:
            claimed[row][:, order * np.nan_to_num(track.f_hz) > 0.5 * recording.rate_hz] = np.nan
    return Orders(track.t_s, track.f_hz, claimed, broadband, np.sqrt(np.maximum(total, 0)))


def _turned_back(phase: Floats) -> dict[float, NDArray[np.complex128]]:
    """exp(-i order phase) for every order, by products: an exponential costs more."""
    half = np.exp(-0.5j * phase)
    first = half * half
    second = first * first
    return {
        0.5: half,
        1.0: first,
        2.0: second,
        3.0: second * first,
        4.0: second * second,
        5.0: second * second * first,
    }


def _spacing(t_s: Floats) -> Floats:
    """Weight of each sample: the time it stands for over the mean; a gap counts as two steps."""
    steps = np.diff(t_s)
    steps = np.minimum(steps, 2 * np.median(steps))
    share = (np.append(steps, steps[-1]) + np.append(steps[:1], steps)) / 2
    spacing: Floats = share / share.mean()
    return spacing
