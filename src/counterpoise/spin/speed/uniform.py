"""Even samples in the machine's own frame, and their spectra over time."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.kind import WASHER_PACE, Pace
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Recording

# An eighth of a washer's window: the speed changes by at most 0.8 Hz from frame to frame.
HOP_S = 0.25
Number = TypeVar("Number", np.float64, np.complex128)


@dataclass(frozen=True)
class UprightSignal:
    """A recording turned upright: side, front, up (3, n) at even steps, less gravity, m/s2.

    ``side`` is the horizontal direction with the most motion, so neither how the phone lay nor the
    sign of its axes matters. ``turn`` (3, 3) brings the phone's axes into this frame.
    """

    rate_hz: float
    acc_ms2: Floats
    turn: Floats


@dataclass(frozen=True)
class Spectrogram:
    """Short spectra: ``power`` (frames, bins) in (m/s2)^2 per bin, axes summed, Hann."""

    t_s: Floats
    f_hz: Floats
    power: Floats


def rest_vector(recording: Recording) -> Floats:
    """Mean specific force (3,), m/s2, over the seconds most alike: handling does not count."""
    per_block = max(1, round(recording.rate_hz))
    blocks = len(recording.acc_ms2) // per_block
    means = recording.acc_ms2[: blocks * per_block].reshape(blocks, per_block, 3).mean(axis=1)
    apart = np.linalg.norm(means[:, None] - means[None], axis=2)
    middle = int(np.argmin(apart.sum(axis=1)))
    # One second in five may be handling, bumps and the pass through resonance.
    alike = apart[middle] <= np.quantile(apart[middle], 0.8)
    rest: Floats = means[alike].mean(axis=0)
    return rest


def turn_upright(recording: Recording) -> Floats:
    """Rotation (3, 3) from the phone's axes to side, front, up."""
    up = rest_vector(recording) if recording.has_gravity else np.array([0.0, 0.0, GRAVITY_MS2])
    up = up / np.linalg.norm(up)
    # Any direction far from the vertical will do to begin with.
    helper = np.eye(3)[np.argmin(np.abs(up))]
    first = helper - up * (helper @ up)
    first /= np.linalg.norm(first)
    flat = np.stack([first, np.cross(up, first)])
    motion = flat @ (recording.acc_ms2 - recording.acc_ms2.mean(axis=0)).T
    # The principal axes of the flat motion; eigh gives the largest last.
    _, vectors = np.linalg.eigh(motion @ motion.T)
    return np.vstack([vectors.T[::-1] @ flat, up])


def upright_signal(recording: Recording) -> UprightSignal:
    """Resample evenly by straight lines between samples and turn upright."""
    turn = turn_upright(recording)
    count = int(recording.duration_s * recording.rate_hz) + 1
    t = np.arange(count) / recording.rate_hz
    turned = turn @ (recording.acc_ms2 - rest_vector(recording)).T
    even = np.stack([np.interp(t, recording.t_s, axis) for axis in turned])
    return UprightSignal(recording.rate_hz, even, turn)


def windowed(values: NDArray[Number], starts: NDArray[np.int64], window: Floats) -> NDArray[Number]:
    """Weighted sums (axes, frames) of ``values`` (axes, n) in windows that begin at ``starts``."""
    out = np.empty((len(values), len(starts)), dtype=values.dtype)
    for row, each in enumerate(values):
        views = np.lib.stride_tricks.sliding_window_view(each, len(window))
        for block in range(0, len(starts), 512):
            # einsum, not matmul: the threads of a BLAS cost more than these small products
            out[row, block : block + 512] = np.einsum(
                "fw,w->f", views[starts[block : block + 512]], window
            )
    return out


def spectrogram(signal: UprightSignal, pace: Pace = WASHER_PACE) -> Spectrogram:
    """Power over time and frequency, summed over the axes, up to 66 Hz for washers."""
    rate, acc = signal.rate_hz, signal.acc_ms2
    length = min(int(pace.window_s * rate), acc.shape[1])
    hop = max(1, round(HOP_S * rate))
    starts = np.arange(0, acc.shape[1] - length + 1, hop)
    # Zeros on the end put more bins on each line, so that a peak is read between them.
    padded = 2 ** int(np.ceil(np.log2(length * 1.9)))
    window = np.hanning(length + 1)[:length]
    f = np.fft.rfftfreq(padded, 1 / rate)
    kept = f <= pace.spectrum_hz
    power = np.zeros((len(starts), int(kept.sum())))
    # In blocks, so that half an hour at 400 Hz needs no gigabyte.
    for block in range(0, len(starts), 256):
        some = starts[block : block + 256]
        for axis in acc:
            frames = np.lib.stride_tricks.sliding_window_view(axis, length)[some] * window
            bins = np.fft.rfft(frames, padded, axis=1)[:, kept]
            power[block : block + 256] += bins.real**2 + bins.imag**2
    return Spectrogram(
        (starts + (length - 1) / 2) / rate,
        f[kept].astype(np.float64),
        power * (2 / window.sum()) ** 2,
    )
