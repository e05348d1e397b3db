"""A recording read to the end: speed, course, orders, knocks, signature."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from counterpoise.spin.features.interharmonics import interharmonic_features, slow_passage_features
from counterpoise.spin.features.knocks import Knocks, find_knocks
from counterpoise.spin.features.orders import Orders, find_orders
from counterpoise.spin.features.orders_by_speed import orders_by_speed
from counterpoise.spin.features.signature import signature
from counterpoise.spin.features.tilt_features import FAINT_MS2, orbit_features, tilt_features
from counterpoise.spin.kind import USUAL_KIND, Kind, expected_rpm, is_fast, pace_of, sees
from counterpoise.spin.recording import Floats, Recording
from counterpoise.spin.speed.lost_stretches import lost_notes, lost_stretches
from counterpoise.spin.speed.phase_refinement import refined_track
from counterpoise.spin.speed.phases import Course, find_course, runs
from counterpoise.spin.speed.speed_tracking import SpeedTrack, track_speed
from counterpoise.spin.speed.uniform import Spectrogram, UprightSignal, spectrogram, upright_signal

# Phones at rest read 0.01 to 0.06 m/s2 rms over all axes (estimate); twice that is still.
STILL_MS2 = 0.12
# Noise is the same all the time: its loudest is within this factor of its quietest.
STILL_SPREAD = 4.0
# Share of frames with a drum in which a phone may still lie on a machine at rest.
MOST_TURNING = 0.1
# No laundry tumbles at this speed: it lies on the wall of the drum.
FAST_RPM = 200.0
# A stretch of less is left out rather than guessed.
LEAST_CONFIDENCE = 0.4


@dataclass(frozen=True)
class Reading:
    """All that one recording says by itself; ``still``: the phone lay on no running machine."""

    recording: Recording
    track: SpeedTrack
    course: Course
    orders: Orders
    knocks: Knocks
    still: bool
    spectrum: Spectrogram
    signal: UprightSignal
    # From and to in s, where the drum turned but could not be followed.
    lost_s: tuple[tuple[float, float], ...] = ()
    kind: Kind = USUAL_KIND
    # the programme's top speed in rpm, None where nobody told it
    told_rpm: float | None = None

    @property
    def too_slow(self) -> bool:
        """Whether it was read too seldom to show a machine as fast as this one."""
        return _too_slow(self.recording, self.kind, self.told_rpm)

    @cached_property
    def signature(self) -> dict[str, float]:
        """Features by name (log10 of m/s2, ratios, rpm / 1000), NaN where not seen."""
        values = signature(self.orders, self.course, self.knocks)
        values |= interharmonic_features(
            self.spectrum, self.orders, self.course, self.recording.rate_hz
        )
        values |= tilt_features(self.signal, self.orders, self.course)
        values |= orbit_features(self.orders, self.course)
        # What kind of phone listened explains much of what was heard above the orders.
        values["rate"] = float(np.log10(self.recording.rate_hz))
        values["hush"] = float(
            np.log10(np.quantile(self.orders.broadband_ms2.max(axis=0), 0.03) + FAINT_MS2)
        )
        # Where the drum was hardly followed, what was read along its speed is worth less.
        known = np.isfinite(self.track.f_hz)
        sure = self.track.confidence[known] if len(self.track.confidence) else np.ones(known.sum())
        values["sure"] = float(np.median(sure)) if known.any() else 0.0
        values |= slow_passage_features(self.orders, self.course)
        return values | orders_by_speed(self.orders, self.course)


def read_spin(
    recording: Recording, *, top_rpm: float | None = None, kind: Kind = USUAL_KIND
) -> Reading:
    """Read one recording; ``top_rpm`` is the programme's spin speed where it is known, else None.

    Nothing much faster than ``top_rpm`` is taken for the drum; where it was not told, nothing
    faster than machines of the ``kind`` turn.
    """
    pace = pace_of(kind, top_rpm)
    # Even samples serve spectra and knocks; the orders take the samples at their own times.
    even = upright_signal(recording)
    spectrum = spectrogram(even, pace)
    power = spectrum.power.sum(axis=1)
    seen = track_speed(spectrum, recording.rate_hz, top_rpm, pace)
    # its folded image would pass for a slower drum
    if _too_slow(recording, kind, top_rpm):
        seen = replace(seen, f_hz=np.full_like(seen.f_hz, np.nan), confidence=0 * seen.confidence)
    track = refined_track(even, without_doubtful(seen))
    lost = lost_stretches(track, seen.f_hz)
    recording = replace(recording, notes=(*recording.notes, *lost_notes(lost)))
    orders = find_orders(recording, even.turn, track)
    course = find_course(track, power)
    knocks = find_knocks(even, track.t_s, course, track.f_hz)
    rms = np.sqrt(np.sum(orders.rms_ms2**2, axis=0))
    turning = float(np.mean(np.isfinite(track.f_hz)))
    still = turning < MOST_TURNING and _is_still(rms, recording.step_ms2)
    return Reading(
        recording, track, course, orders, knocks, still, spectrum, even, tuple(lost), kind, top_rpm
    )


def _too_slow(recording: Recording, kind: Kind, told_rpm: float | None) -> bool:
    expected = expected_rpm(kind, told_rpm)
    # washers are followed by their folded lines as well, as far as that goes
    return (
        is_fast(kind, told_rpm) and expected is not None and not sees(recording.rate_hz, expected)
    )


def without_doubtful(track: SpeedTrack) -> SpeedTrack:
    """Take out stretches above 200 rpm that are more likely wrong than right, as NaN.

    Decided stretch by stretch from the confidence there: a loud knock elsewhere in the file, or a
    quiet machine, changes nothing.
    """
    fast = np.nan_to_num(track.f_hz) * 60 > FAST_RPM
    kept = track.f_hz.copy()
    for start, end in runs(fast):
        if np.median(track.confidence[start:end]) < LEAST_CONFIDENCE:
            kept[start:end] = np.nan
    return replace(track, f_hz=kept, confidence=np.where(np.isnan(kept), 0.0, track.confidence))


def _is_still(rms_ms2: Floats, step_ms2: float) -> bool:
    """Whether nothing but the phone's own noise is there: faint, and the same all the time."""
    # The rounding of the file makes noise too: a step of 0.1 m/s2 hides anything fainter.
    faint = float(np.quantile(rms_ms2, 0.95)) < max(STILL_MS2, 1.5 * step_ms2)
    low, high = np.quantile(rms_ms2, [0.05, 0.98])
    even = bool(high < STILL_SPREAD * low + 0.3 * step_ms2)
    return faint and even
