"""A recording read to the end: speed, course, orders, knocks, signature."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from counterpoise.spin.features.interharmonics import between_orders, slow_passage
from counterpoise.spin.features.knocks import Knocks, find_knocks
from counterpoise.spin.features.orders import Orders, find_orders
from counterpoise.spin.features.signature import signature
from counterpoise.spin.features.tilt_features import FAINT_MS2, ellipses, leaning
from counterpoise.spin.recording import Floats, Recording
from counterpoise.spin.speed.phase_refinement import sharpen
from counterpoise.spin.speed.phases import Course, find_course
from counterpoise.spin.speed.speed_tracking import Track, track_speed
from counterpoise.spin.speed.uniform import Spectra, Upright, spectra, upright

STILL_MS2 = 0.12
STILL_SPREAD = 4.0
MOST_TURNING = 0.1
FAST_RPM = 200.0
LOUD_MS2 = 0.4
EXPLAINED = 0.45


@dataclass(frozen=True)
class Reading:
    """All that one recording says by itself."""

    recording: Recording
    track: Track
    course: Course
    orders: Orders
    knocks: Knocks
    still: bool
    spectrum: Spectra
    signal: Upright

    @cached_property
    def signature(self) -> dict[str, float]:
        """Features by name, NaN where not seen."""
        found = signature(self.orders, self.course, self.knocks)
        found |= between_orders(self.spectrum, self.orders, self.course, self.recording.rate_hz)
        found |= leaning(self.signal, self.orders, self.course)
        found |= ellipses(self.orders, self.course)
        found["rate"] = float(np.log10(self.recording.rate_hz))
        found["hush"] = float(
            np.log10(np.quantile(self.orders.broadband_ms2.max(axis=0), 0.03) + FAINT_MS2)
        )
        return found | slow_passage(self.orders, self.course)


def read_spin(recording: Recording, *, top_rpm: float | None = None) -> Reading:
    """Read one recording; ``top_rpm`` is the programme's spin speed where it is known."""
    even = upright(recording)
    spectrum = spectra(even)
    power = spectrum.power.sum(axis=1)
    track = sharpen(even, track_speed(spectrum, recording.rate_hz, top_rpm))
    orders = find_orders(recording, even.turn, track)
    if only_tumbled(orders):
        fast = np.nan_to_num(track.f_hz) * 60 > FAST_RPM
        track = replace(track, f_hz=np.where(fast, np.nan, track.f_hz))
        orders = find_orders(recording, even.turn, track)
    course = find_course(track, power)
    knocks = find_knocks(even, track.t_s, course, track.f_hz)
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    turning = float(np.mean(np.isfinite(track.f_hz)))
    still = turning < MOST_TURNING and _is_still(rms, recording.step_ms2)
    return Reading(recording, track, course, orders, knocks, still, spectrum, even)


def only_tumbled(orders: Orders) -> bool:
    """Whether a fast drum in a quiet recording is but the knocking of laundry: its orders explain too little."""
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    fast = np.nan_to_num(orders.f_hz) * 60 > FAST_RPM
    if not fast.any() or np.quantile(rms, 0.95) > LOUD_MS2:
        return False
    explained = 0.5 * np.nansum(np.abs(orders.amplitude[:, :, fast]) ** 2, axis=(0, 1))
    return bool(np.median(explained / np.maximum(rms[fast] ** 2, 1e-12)) < EXPLAINED)


def _is_still(rms_ms2: Floats, step_ms2: float) -> bool:
    """Whether nothing but the phone's own noise is there: faint, and the same all the time."""
    faint = float(np.quantile(rms_ms2, 0.95)) < max(STILL_MS2, 1.5 * step_ms2)
    low, high = np.quantile(rms_ms2, [0.05, 0.98])
    even = bool(high < STILL_SPREAD * low + 0.3 * step_ms2)
    return faint and even
