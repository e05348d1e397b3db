"""Orders of a simulated spin: how much of the panel's shake turns with the drum, once, twice, three times."""

import numpy as np

from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.simulate import SpinResult

WINDOW_S = 1.0


def order(spin: SpinResult, times: float, axis: int) -> Floats:
    """Amplitude (n) in m/s2 of the panel's motion at a multiple of the drum's angle, over a sliding second (Hann)."""
    rate = 1.0 / float(spin.t_s[1] - spin.t_s[0])
    window = np.hanning(max(3, int(WINDOW_S * rate)))
    window /= window.sum()
    signal = spin.panel_m_s2[:, axis]
    edge = window.size // 2
    slow = np.convolve(np.pad(signal, edge, "edge"), window, "same")[edge : edge + signal.size]
    turned = (signal - slow) * np.exp(-1j * times * spin.drum_rad)
    return np.asarray(2.0 * np.abs(np.convolve(turned, window, "same")))


def order_all_axes(spin: SpinResult, times: float) -> Floats:
    """Amplitudes of the three axes taken together (root of the sum of squares)."""
    return np.asarray(np.sqrt(sum(order(spin, times, axis) ** 2 for axis in range(3))))
