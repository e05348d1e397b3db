"""What lies between the orders, and how the machine passes its slow resonance: signs of rattles and of dampers."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.orders import Orders
from counterpoise.spin.phases import PHASES, Course
from counterpoise.spin.recording import Floats
from counterpoise.spin.uniform import Spectra

BANDS_RPM = ((330, 450), (600, 820), (850, 2000))
BETWEEN = {"half_more": (1.5, 2.5), "tone": (3.25, 3.5, 3.65), "quarter": (1.25, 1.75, 2.25)}
HIGH_HZ = (24.0, 29.0)
PASSAGE_S = 6.0
FLOOR = 1e-5  # (m/s2)^2


def between_orders(spectrum: Spectra, orders: Orders, course: Course) -> dict[str, float]:
    """Power between the orders over the power of the first, in log10, in three bands of speed on holds.

    Up to 29 Hz only, which every phone sees.
    """
    holding = course.phase == PHASES.index("hold")
    rpm = 60 * np.nan_to_num(orders.f_hz)
    out = {}
    for low, high in BANDS_RPM:
        here = holding & (rpm >= low) & (rpm < high)
        for name, multiples in BETWEEN.items():
            out[f"{name}_{low}"] = _excess(spectrum, orders.f_hz, here, multiples)
        out[f"high_{low}"] = _high(spectrum, orders.f_hz, here)
    return out


def _at(spectrum: Spectra, f_hz: Floats, frames: NDArray[np.int64]) -> Floats:
    """Power of frames at one frequency each, NaN above what every phone sees."""
    place = f_hz / spectrum.f_hz[1]
    low = np.clip(place.astype(int), 0, len(spectrum.f_hz) - 2)
    part = place - low
    value = spectrum.power[frames, low] * (1 - part) + spectrum.power[frames, low + 1] * part
    return np.where(f_hz < HIGH_HZ[1], value, np.nan)


def _excess(spectrum: Spectra, f_hz: Floats, here: NDArray[np.bool_], multiples: tuple[float, ...]) -> float:
    frames = np.flatnonzero(here)
    if len(frames) < 4:
        return np.nan
    f = f_hz[frames]
    one = np.median(_at(spectrum, f, frames))
    levels = [float(np.median(_at(spectrum, each * f, frames))) for each in multiples]
    seen = [each for each in levels if np.isfinite(each)]
    return float(np.log10((max(seen) + FLOOR) / (one + FLOOR))) if seen else np.nan


def _high(spectrum: Spectra, f_hz: Floats, here: NDArray[np.bool_]) -> float:
    """Quiet floor between 24 and 29 Hz: its lower quartile, so that lines do not count."""
    frames = np.flatnonzero(here)
    if len(frames) < 4:
        return np.nan
    band = (spectrum.f_hz > HIGH_HZ[0]) & (spectrum.f_hz < HIGH_HZ[1])
    if band.sum() < 4:
        return np.nan
    floor = float(np.median(np.quantile(spectrum.power[frames][:, band], 0.25, axis=1)))
    one = float(np.median(_at(spectrum, f_hz[frames], frames)))
    return float(np.log10((floor + FLOOR) / (one + FLOOR)))


def slow_passage(orders: Orders, course: Course) -> dict[str, float]:
    """How much the cabinet moves while the drum passes 80 to 300 rpm, up and down, and how long it rings after.

    Against full speed, where there is one. Dampers without grip let the tub swing there.
    """
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    level = np.log10(np.hypot(rms, 0.004))
    rpm = 60 * np.nan_to_num(orders.f_hz)
    out = {"climb_most": np.nan, "coast_most": np.nan, "ring_s": np.nan}
    fast = np.flatnonzero((rpm > 300) & np.isin(course.phase, [3, 4]))
    if len(fast) < 8:
        return out
    hop = orders.t_s[1] - orders.t_s[0]
    reach = round(PASSAGE_S / hop)
    full = np.median(level[fast[rpm[fast] > 0.95 * rpm[fast].max()]])
    before = level[max(0, fast[0] - reach) : fast[0]]
    if len(before) > 6:
        out["climb_most"] = float(before.max() - full)
    slow_again = fast[-1] + np.flatnonzero(rpm[fast[-1] :] < 300)
    if len(slow_again) > 6:
        after = level[slow_again[0] : slow_again[0] + 2 * reach]
        out["coast_most"] = float(after.max() - full)
        last_loud = np.flatnonzero(after > after.max() - 0.7)[-1]
        out["ring_s"] = float(np.log10(hop * (last_loud + 1)))
    return out
