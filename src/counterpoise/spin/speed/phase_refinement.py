"""Refine a speed track with the phase of the line it follows.

The signal is turned back by the tracked angle; what slow rotation remains from window to window is
the error of the speed. Accuracy on a steady stretch is limited by noise alone, not by the width of
a spectrum.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.comb import alias_hz
from counterpoise.spin.speed.speed_tracking import SpeedTrack
from counterpoise.spin.speed.uniform import UprightSignal, windowed

# Half the window of the spectra: the track is near enough by now to afford it on a climb.
WINDOW_S = 1.0
# A correction beyond this is another line caught, not an error of the track.
MOST_STEP_HZ = 0.6
# Nor may all corrections together leave the line that the spectra have placed.
MOST_SHIFT_HZ = 0.5


def drum_angle(t_s: Floats, track: SpeedTrack) -> Floats:
    """Drum angle in rad at times (n,) in s; gaps of the track are bridged by straight lines."""
    known = np.isfinite(track.f_hz)
    if not known.any():
        return np.zeros_like(t_s)
    f = np.interp(t_s, track.t_s[known], track.f_hz[known])
    steps = np.diff(t_s, prepend=t_s[0])
    return 2 * np.pi * np.cumsum((f + np.concatenate([f[:1], f[:-1]])) / 2 * steps)


def order_amplitudes(
    signal: UprightSignal, phase: Floats, order: float, centres: NDArray[np.int64], length: int
) -> NDArray[np.complex128]:
    """Complex amplitude (axes, windows) of one order in Hann windows of ``length`` samples."""
    # Without the two zeros at the ends, which would waste samples.
    window = np.hanning(length + 2)[1:-1]
    window /= window.sum()
    turned = signal.acc_ms2 * np.exp(-1j * order * phase)
    starts = np.clip(centres - length // 2, 0, signal.acc_ms2.shape[1] - length)
    return 2 * windowed(turned, starts, window)


def refined_track(signal: UprightSignal, track: SpeedTrack, rounds: int = 2) -> SpeedTrack:
    """Track in Hz with the residual rotation of the first (or a stronger second) order worked in.

    Returned as it was where less than four frames show a drum.
    """
    f = _even(track.f_hz)
    # Bounded on both sides: residuals that add up freely ran off to speeds below zero.
    low, high = np.maximum(f - MOST_SHIFT_HZ, 0.5 * f), f + MOST_SHIFT_HZ
    if np.isfinite(f).sum() < 4:
        return track
    t = np.arange(signal.acc_ms2.shape[1]) / signal.rate_hz
    hop = float(track.t_s[1] - track.t_s[0])
    centres = np.round(track.t_s * signal.rate_hz).astype(int)
    length = min(max(8, int(WINDOW_S * signal.rate_hz)), len(t))
    for _ in range(rounds):
        f = f + _smooth(_residual(signal, replace(track, f_hz=f), t, centres, length) / hop)
        f = np.clip(f, low, high)
    return replace(track, f_hz=f)


def _residual(
    signal: UprightSignal, track: SpeedTrack, t: Floats, centres: NDArray[np.int64], length: int
) -> Floats:
    """Turns per hop by which the line runs ahead of the track, at each frame."""
    phase = drum_angle(t, track)
    turns = []
    weight = []
    for order in (1.0, 2.0):
        z = order_amplitudes(signal, phase, order, centres, length)
        step = np.sum(z[:, 1:] * np.conj(z[:, :-1]), axis=0)
        # The steps before and after a frame, added as vectors: strong ones count more.
        both = np.concatenate([step[:1], step]) + np.concatenate([step, step[-1:]])
        # A second order near or above half the rate is an image, which turns the wrong way.
        visible = np.nan_to_num(track.f_hz) * order < 0.45 * signal.rate_hz
        turns.append(np.angle(both) / (2 * np.pi * order))
        weight.append(np.where(visible | (order == 1.0), np.abs(both), 0))
    # Only a second order much stronger than the first is the better clock.
    ahead = np.where(weight[1] > 6 * weight[0], turns[1], turns[0])
    limit = MOST_STEP_HZ * float(track.t_s[1] - track.t_s[0])
    clipped: Floats = np.clip(ahead, -limit, limit)
    return clipped


def _even(f_hz: Floats) -> Floats:
    """Average over five frames in a way that neither widens nor closes gaps."""
    known = np.isfinite(f_hz)
    # A triangle of five frames: the grid of 0.1 Hz is smoothed away.
    kernel = np.array([1.0, 2.0, 3.0, 2.0, 1.0])
    total = np.convolve(np.where(known, f_hz, 0.0), kernel, mode="same")
    weight = np.convolve(known.astype(float), kernel, mode="same")
    # At an edge a mean would lag behind a changing speed.
    centred = np.convolve(known.astype(float), np.ones(5), mode="same") == 5
    return np.where(known & centred, total / np.maximum(weight, 1e-9), f_hz)


def _smooth(x: Floats) -> Floats:
    return np.convolve(np.pad(x, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")


def aliases_onto(order: float, f_hz: Floats, rate_hz: float, clear_hz: float) -> NDArray[np.bool_]:
    """Whether an order (n,), as sampled, lands on the first, or on standstill, within ``clear_hz``.

    Such an order cannot be told from what is there already.
    """
    appears = alias_hz(order * f_hz, rate_hz)
    return (np.abs(appears - alias_hz(f_hz, rate_hz)) < clear_hz) | (appears < clear_hz)
