"""Put the time axis in order and say in plain words what is wrong with a recording."""

import numpy as np
from numpy.typing import NDArray

from counterpoise.errors import RecordingError
from counterpoise.spin.recording import Floats, Note

# Shorter gaps are a few samples dropped, which straight lines bridge well (estimate).
GAP_S = 0.08
# More rows out of order than this: the time runs backwards, it is not a few packets overtaken.
MOST_BACKWARDS = 0.2
# Fewer equal stamps than this are copies of a row; more are a clock coarser than the sampling.
COARSE_SHARE = 0.05
# Where nothing else is known a machine is taken to spin at 1200 rpm (common practice).
USUAL_TOP_RPM = 1200.0
# Ranges of phones are 2 g and more (common practice); a lower peak is no end of one.
LEAST_RANGE_MS2 = 15.0
# Rounding to 0.1 m/s2 and coarser drowns a quiet machine (estimate).
COARSE_STEP_MS2 = 0.045


def ordered_time(t_s: Floats, acc: Floats) -> tuple[Floats, Floats, list[Note]]:
    """Return times (n,) in s rising strictly from 0, their readings (n, 3), and remarks.

    Sorts, spreads equal stamps, drops copies. Raises RecordingError where time runs backwards.
    """
    notes = []
    back = np.diff(t_s) < 0
    if np.mean(back) > MOST_BACKWARDS:
        raise RecordingError(
            "the time runs backwards", field="time", remedy="Sort the rows by time"
        )
    if back.any():
        notes.append(
            Note("out_of_order", f"{int(back.sum())} rows were out of order; sorted by time.")
        )
        order = np.argsort(t_s, kind="stable")
        t_s, acc = t_s[order], acc[order]
    equal = np.diff(t_s) <= 0
    if equal.any():
        notes.append(
            Note("coarse_time", f"{int(equal.sum())} rows share their time with the row before.")
        )
        if np.mean(equal) > COARSE_SHARE:
            t_s, acc = _spread(t_s, acc)
        else:
            t_s, acc = t_s[_first(equal)], acc[_first(equal)]
    return t_s - t_s[0], acc, notes


def _first(equal: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.concatenate([[True], ~equal])


def _spread(t_s: Floats, acc: Floats) -> tuple[Floats, Floats]:
    """Stamps coarser than the sampling: spread the samples evenly between the stamps."""
    starts = np.flatnonzero(_first(np.diff(t_s) <= 0))
    if len(starts) < 3:
        raise RecordingError(
            "nearly all rows carry the same time", field="time", remedy="Record again"
        )
    last = starts[-1]  # the last group has no end; drop it
    return np.interp(np.arange(last), starts, t_s[starts]), acc[:last]


def rate_notes(t_s: Floats, rate_hz: float, top_rpm: float | None) -> list[Note]:
    """Remarks on jitter, gaps, a rate too low for ``top_rpm`` (None: 1200 rpm); empty if fine."""
    steps = np.diff(t_s)
    typical = float(np.median(steps))
    gaps = steps[steps > max(GAP_S, 3.5 * typical)]
    notes = []
    if len(gaps):
        notes.append(
            Note(
                "gaps",
                f"{len(gaps)} gaps, the longest {gaps.max():.2f} s; the reading bridges them.",
            )
        )
    spread = float(np.std(steps[steps < 3 * typical]) / typical)
    if spread > 0.15:
        notes.append(
            Note(
                "jitter",
                f"The time between samples varies by {100 * spread:.0f} %; it was evened out.",
            )
        )
    top = top_rpm or USUAL_TOP_RPM
    # Half the rate is the highest frequency seen true; a tenth more for filters and a fast drum.
    if rate_hz < 2.2 * top / 60:
        notes.append(
            Note(
                "rate_too_low",
                f"At {rate_hz:.0f} samples a second the drum itself cannot be followed above "
                f"{27 * rate_hz:.0f} rpm. Record faster.",
            )
        )
    elif rate_hz < 4.4 * top / 60:
        notes.append(
            Note(
                "rate_low",
                f"At {rate_hz:.0f} samples a second the second order is seen true only below "
                f"{14 * rate_hz:.0f} rpm, the third below {9 * rate_hz:.0f} rpm.",
            )
        )
    return notes


def clipping(acc: Floats) -> float:
    """Return the share (0 to 1) of samples (n, 3) that sit on the end of the sensor's range.

    An end counts as a range limit when the extreme value comes at least four times and at least a
    third as often as all values within 5 % of it.
    """
    hit = np.zeros(len(acc), dtype=bool)
    for axis in acc.T:
        for signed in (axis, -axis):
            high = float(signed.max())
            at_end = signed >= high - 1e-9 * abs(high)
            near = np.sum((signed < high) & (signed > high - 0.05 * max(1.0, abs(high))))
            # A sine dwells near its peak too, but on many values there, not on one.
            if high > LEAST_RANGE_MS2 and at_end.sum() >= 4 and at_end.sum() * 3 >= near:
                hit |= at_end
    return float(np.mean(hit))


def finest_step(acc: Floats) -> float:
    """Smallest step between readings (n, 3), in their unit: the sensor's, or the file's rounding.

    0 where all are the same.
    """
    values = np.unique(np.round(acc[:20_000, 0], 9))
    steps = np.diff(values)
    # Not the least: two readings may differ by a rounding error of a conversion.
    return float(np.quantile(steps, 0.05)) if len(steps) else 0.0


def value_notes(acc_ms2: Floats, step_ms2: float, clipped: float) -> list[Note]:
    """Remarks on clipping (a share of 1), coarse rounding, constant readings; empty if fine."""
    notes = []
    if clipped > 0:
        notes.append(
            Note(
                "clipped",
                f"{100 * clipped:.2g} % of the samples hit the end of the phone's range; "
                "the true peaks were higher.",
            )
        )
    if step_ms2 > COARSE_STEP_MS2:
        notes.append(
            Note(
                "coarse",
                f"The readings come in steps of {step_ms2:.2g} m/s2; quiet stretches drown in it.",
            )
        )
    if len(acc_ms2) and not np.any(np.ptp(acc_ms2, axis=0) > 0):
        notes.append(Note("constant", "All readings are the same."))
    return notes
