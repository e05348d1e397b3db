"""A recording read to the end: speed, course, orders, knocks, signature."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from counterpoise.spin.between import between_orders, slow_passage
from counterpoise.spin.knocks import Knocks, find_knocks
from counterpoise.spin.orders import Orders, find_orders
from counterpoise.spin.phases import Course, find_course
from counterpoise.spin.recording import Floats, Recording
from counterpoise.spin.refine import sharpen
from counterpoise.spin.signature import signature
from counterpoise.spin.track import Track, track_speed
from counterpoise.spin.uniform import Spectra, spectra, upright

STILL_MS2 = 0.12
STILL_SPREAD = 4.0
MOST_TURNING = 0.1


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

    @cached_property
    def signature(self) -> dict[str, float]:
        """Features by name, NaN where not seen."""
        found = signature(self.orders, self.course, self.knocks)
        found |= between_orders(self.spectrum, self.orders, self.course)
        return found | slow_passage(self.orders, self.course)


def read_spin(recording: Recording, *, top_rpm: float | None = None) -> Reading:
    """Read one recording; ``top_rpm`` is the programme's spin speed where it is known."""
    even = upright(recording)
    spectrum = spectra(even)
    power = spectrum.power.sum(axis=1)
    track = sharpen(even, track_speed(spectrum, recording.rate_hz, top_rpm))
    course = find_course(track, power)
    orders = find_orders(recording, even.turn, track)
    knocks = find_knocks(even, track.t_s, course, track.f_hz)
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    turning = float(np.mean(np.isfinite(track.f_hz)))
    still = turning < MOST_TURNING and _is_still(rms, recording.step_ms2)
    return Reading(recording, track, course, orders, knocks, still, spectrum)


def _is_still(rms_ms2: Floats, step_ms2: float) -> bool:
    """Whether nothing but the phone's own noise is there: faint, and the same all the time."""
    faint = float(np.quantile(rms_ms2, 0.95)) < max(STILL_MS2, 1.5 * step_ms2)
    low, high = np.quantile(rms_ms2, [0.05, 0.98])
    even = bool(high < STILL_SPREAD * low + 0.3 * step_ms2)
    return faint and even
