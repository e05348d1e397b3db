"""What lies on and between the orders, and how the machine passes its slow resonance.

Signs of rattles, of dampers and of blows: a blow once a turn fills all orders, rubbing friction the
third and fifth, a bearing what lies between.
"""

import numpy as np
from numpy.typing import NDArray

from counterpoise.spin.features.orders import Orders
from counterpoise.spin.kind import WASHER_PACE
from counterpoise.spin.recording import Floats
from counterpoise.spin.speed.comb import alias_hz
from counterpoise.spin.speed.phases import PHASES, Course
from counterpoise.spin.speed.uniform import Spectrogram

# Distribution, the two holds that many programmes make on the way, full speed (common
# practice).
BANDS_RPM = ((85, 106), (330, 450), (600, 820), (850, 2000))
WHOLE = (2, 3, 4, 5, 6)
HALVES = (0.5, 1.5, 2.5, 3.5)
# Where the balls of a drum's bearing pass, times a turn (common practice: 8 to 10 balls).
TONES = (2.7, 3.9)
# Off the orders and half orders by this much, what is heard is neither.
NEAR_WHOLE = 0.12
# A line of a 2 s Hann window reaches 1 Hz to each side.
CLEAR_HZ = 1.2
# Orders above the ninth are too weak to matter when they fold (estimate).
FOLDED_UP_TO = 9
# In twentieths of an order, up to the sixth.
GRID = np.arange(0.5, 6.01, 0.05)
# Just under half of 60 Hz, the slowest rate of phones: what can be compared between all.
EVERY_PHONE_HZ = 29.0
# A drum passes 80 to 300 rpm in 4 to 10 s (estimate).
PASSAGE_S = 6.0
FLOOR = 1e-5  # (m/s2)^2, under the noise of any phone (estimate)
# What no phone tells from nothing (estimate): keeps logarithms of silence apart from each other.
FAINT_MS2 = 0.004


def interharmonic_features(
    spectrum: Spectrogram, orders: Orders, course: Course, rate_hz: float
) -> dict[str, float]:
    """Power on a grid of orders over that of the first, log10, by bands of rpm of a steady drum.

    Names end in the band's lowest speed: ``on_K`` an order, ``off_K`` a half order, ``tone`` the
    strongest of what lies between about 2.7 and 3.9, ``quiet`` the floor, both up to 29 Hz (every
    phone sees that) and ``tone_far`` and ``quiet_far`` up to what this phone sees. NaN where not
    seen.
    """
    even = np.isin(course.phase, [PHASES.index("hold"), PHASES.index("distribution")])
    rpm = 60 * np.nan_to_num(orders.f_hz)
    out: dict[str, float] = {}
    for low, high in BANDS_RPM:
        frames = np.flatnonzero(even & (rpm >= low) & (rpm < high))
        most_hz = min(0.47 * rate_hz, WASHER_PACE.spectrum_hz - 1)
        far = _spectrum_of(spectrum, orders.f_hz, frames, most_hz)
        near = _spectrum_of(spectrum, orders.f_hz, frames, EVERY_PHONE_HZ)
        clear = _clear(orders.f_hz[frames], rate_hz)
        out |= {f"{name}_{low}": value for name, value in _described(near, far, clear).items()}
    return out


def _spectrum_of(
    spectrum: Spectrogram, f_hz: Floats, frames: NDArray[np.int64], most_hz: float
) -> Floats:
    """Median power over the frames on GRID; NaN above ``most_hz`` or with less than four frames."""
    if len(frames) < 4:
        return np.full(len(GRID), np.nan)
    at = f_hz[frames, None] * GRID
    # A hair under the last bin, so that its neighbour exists.
    place = np.minimum(at / spectrum.f_hz[1], len(spectrum.f_hz) - 1.001)
    low = place.astype(int)
    rows = np.arange(len(frames))[:, None]
    power = spectrum.power[frames]
    value = power[rows, low] * (1 - (place - low)) + power[rows, low + 1] * (place - low)
    return np.where(np.median(at, axis=0) < most_hz, np.median(value, axis=0), np.nan)


def _clear(f_hz: Floats, rate_hz: float) -> NDArray[np.bool_]:
    """Grid orders on which no whole order lands, folded at half the sample rate or not."""
    if not len(f_hz):
        return np.zeros(len(GRID), dtype=np.bool_)
    f = float(np.median(f_hz))
    whole = np.arange(1, FOLDED_UP_TO + 1, dtype=np.float64)
    apart = np.abs(alias_hz(f * whole, rate_hz)[:, None] - f * GRID)
    return np.asarray(apart.min(axis=0) > np.minimum(CLEAR_HZ, 0.2 * f), dtype=np.bool_)


def _at(line: Floats, order: float) -> float:
    return float(line[round((order - GRID[0]) / 0.05)])


def _described(near: Floats, far: Floats, clear: NDArray[np.bool_]) -> dict[str, float]:
    first = _at(near, 1.0) + FLOOR
    tone = (np.abs(GRID - sum(TONES) / 2) < (TONES[1] - TONES[0]) / 2) & clear
    off = (np.abs(2 * GRID - np.round(2 * GRID)) > 2 * NEAR_WHOLE) & clear
    power = {f"on_{order}": _at(far, order) for order in WHOLE} | {
        f"off_{order}": _at(far, order) for order in HALVES
    }
    for name, line in (("", near), ("_far", far)):
        power[f"tone{name}"] = _most(line[tone])
        between = line[off & np.isfinite(line)]
        power[f"quiet{name}"] = float(np.quantile(between, 0.25)) if len(between) > 4 else np.nan
    return {name: float(np.log10((value + FLOOR) / first)) for name, value in power.items()}


def _most(values: Floats) -> float:
    return float(np.nanmax(values)) if np.isfinite(values).any() else np.nan


def slow_passage_features(orders: Orders, course: Course) -> dict[str, float]:
    """How much the cabinet moves as the drum passes 80 to 300 rpm, and how long it rings after.

    log10 against full speed, and log10 of s for ``ring_s``; NaN where the drum never spun. Dampers
    without grip let the tub swing there.
    """
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    level = np.log10(np.hypot(rms, FAINT_MS2))
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
        # Down by 0.7 decades: to a fifth of the amplitude.
        last_loud = np.flatnonzero(after > after.max() - 0.7)[-1]
        out["ring_s"] = float(np.log10(hop * (last_loud + 1)))
    return out
