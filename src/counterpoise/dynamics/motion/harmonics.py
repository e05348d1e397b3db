"""Orders of a simulated spin: how much of the panel's shake turns with the drum, once or twice."""

import numpy as np

from counterpoise.dynamics.motion.pack import Floats
from counterpoise.dynamics.motion.simulate import SpinResult

# Several turns at any speed of a spin, and short against a climb (estimate).
WINDOW_S = 1.0


def order_amplitude(spin: SpinResult, order: float, axis: int) -> Floats:
    """Amplitude (n,) in m/s2 of the panel's motion along one axis at ``order`` times a turn.

    Tracked by the drum's own angle over a sliding second (Hann window), so that a climb does not
    smear it.
    """
    rate = 1.0 / float(spin.t_s[1] - spin.t_s[0])
    window = np.hanning(max(3, int(WINDOW_S * rate)))
    window /= window.sum()
    signal = spin.panel_m_s2[:, axis]
    edge = window.size // 2
    # Gravity and slow tilts are taken out first: they would leak into low orders at low speed.
    slow = np.convolve(np.pad(signal, edge, "edge"), window, "same")[edge : edge + signal.size]
    demodulated = (signal - slow) * np.exp(-1j * order * spin.drum_rad)
    return np.asarray(2.0 * np.abs(np.convolve(demodulated, window, "same")))


def total_order_amplitude(spin: SpinResult, order: float) -> Floats:
    """Amplitudes (n,) in m/s2 of the three axes together: root of the sum of squares."""
    return np.asarray(np.sqrt(sum(order_amplitude(spin, order, axis) ** 2 for axis in range(3))))
