"""Read a recording of a spin: the one way from a file, or from samples, to a ``Recording``."""

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import Source, opened
from counterpoise.spin.files.columns import (
    ACC_UNITS_MS2,
    TIME_UNITS_S,
    Columns,
    acc_unit_of,
    find_columns,
    time_unit_of,
)
from counterpoise.spin.files.csv_rows import LeftOut, Wanted, read_columns
from counterpoise.spin.files.csv_table import detect_layout
from counterpoise.spin.files.quality import (
    clipping,
    finest_step,
    ordered_time,
    rate_notes,
    value_notes,
)
from counterpoise.spin.files.sensors import acceleration_rows, refuse_rows_in_turn
from counterpoise.spin.recording import GRAVITY_MS2, Floats, FormatHints, Note, Recording

MIN_ROWS = 50
# Shorter than 5 s is no spin; longer than 2000 s is a wrong unit of time, or nobody's patience.
MIN_SECONDS = 5.0
MAX_SECONDS = 2000.0
RATES_HZ = (5, 4000)
# A hundred times gravity: sensors of phones end at 8 to 32 times (from memory).
MOST_MS2 = 1000.0
# Below this share of the samples that the rate promises, what is left is islands.
LEAST_PRESENT = 0.3
# Gaps beyond this share: the median step is the true rate, else the mean is the better figure.
LEAST_WHOLE = 0.7


def read_recording(
    source: Source,
    name: str = "",
    hints: FormatHints | None = None,
    *,
    top_rpm: float | None = None,
) -> Recording:
    """Read a CSV or CSV.gz of time and three accelerations from a path or a seekable stream.

    ``name`` stands in messages ("": the path's own); ``top_rpm`` is the programme's spin speed,
    for the remark on sample rates too low. Raises RecordingError, in plain words, for anything
    that cannot be read.
    """
    hints = hints or FormatHints()
    with opened(source, name) as file:
        layout = detect_layout(file, decimal_comma=hints.decimal_comma)
        # Before the columns: only rows of one sensor show which columns hold numbers that rise.
        sensor, layout = acceleration_rows(file, layout)
        columns = find_columns(layout, hints)
        iso = columns.time if columns.time_unit == "iso" else None
        table, left_out = read_columns(file, layout, Wanted(columns.wanted, iso, sensor))
    if len(table) < MIN_ROWS:
        raise RecordingError(
            f"{file.name} has only {len(table)} rows that can be read", remedy="Record a whole spin"
        )
    # More lost than kept: this is damage, not a few bad lines.
    if left_out.bad > len(table):
        raise RecordingError(
            f"{file.name}: {left_out.bad} of {left_out.bad + len(table)} rows cannot be read",
            remedy="Export it again",
        )
    # In the order of the file, for sorting by time would mix turns.
    refuse_rows_in_turn(file, table[:, -3:])
    return recording_from_table(table, columns, hints, _notes_on(left_out), top_rpm=top_rpm)


def _notes_on(left_out: LeftOut) -> list[Note]:
    notes = []
    if left_out.bad:
        text = f"{left_out.bad} rows could not be read and were left out."
        notes.append(Note("bad_rows", text))
    if left_out.other:
        notes.append(
            Note("other_sensors", f"{left_out.other} rows of other sensors were left out.")
        )
    if left_out.second_table:
        text = "A second table further down in the file was left out."
        notes.append(Note("second_table", text))
    return notes


def recording_from_table(
    table: Floats,
    columns: Columns,
    hints: FormatHints,
    notes: list[Note] | None = None,
    *,
    top_rpm: float | None = None,
) -> Recording:
    """Turn raw columns (n, 3 or 4), time first if there is one, into a recording in SI units.

    Raises RecordingError where the unit of time cannot be found or the time is of no use.
    """
    notes = list(notes or [])
    t_s = _seconds(table, columns, hints)
    acc = table[:, -3:]
    # The unit of the acceleration last: it is judged on the rows that stay.
    t_s, acc, more = ordered_time(t_s, acc)
    unit, assumed = (columns.acc_unit, None) if columns.acc_unit else acc_unit_of(acc)
    acc = acc * ACC_UNITS_MS2[unit]
    _refuse_impossible(t_s, acc)
    return recording_from_samples(
        t_s,
        acc,
        [*notes, *more, *([assumed] if assumed else [])],
        top_rpm=top_rpm,
    )


def _refuse_impossible(t_s: Floats, acc_ms2: Floats) -> None:
    """Raise RecordingError where a reading (n, 3), in m/s2, is beyond all that a phone measures."""
    largest = np.max(np.abs(acc_ms2), axis=1, initial=0.0)
    at = int(np.argmax(largest)) if len(largest) else 0
    if len(largest) and largest[at] > MOST_MS2:
        raise RecordingError(
            f"a reading of {largest[at]:.3g} m/s2 at {t_s[at]:.3g} s cannot be right: no phone"
            f" measures more than {MOST_MS2:.0f}",
            remedy="Look at that row and at the unit the file names, then export it again",
        )


def _seconds(table: Floats, columns: Columns, hints: FormatHints) -> Floats:
    if columns.time is None:
        low, high = RATES_HZ
        if not hints.rate_hz or not low <= hints.rate_hz <= high:
            raise RecordingError(
                f"the sample rate must lie between {low} and {high} Hz", field="rate_hz"
            )
        return np.arange(len(table)) / hints.rate_hz
    # Taken from the first, so that epoch nanoseconds keep their digits in a double.
    t = table[:, 0] - table[0, 0]
    seconds: Floats = t * TIME_UNITS_S[columns.time_unit or time_unit_of(t)]
    return seconds


def recording_from_samples(
    t_s: Floats, acc_ms2: Floats, notes: list[Note] | None = None, *, top_rpm: float | None = None
) -> Recording:
    """Make a recording of samples (n,) in s, rising from 0, and (n, 3) in m/s2, and judge it.

    Raises RecordingError where it is shorter than 5 s, longer than 33 minutes or mostly missing.
    """
    seconds = float(t_s[-1] - t_s[0]) if len(t_s) else 0.0
    if not MIN_SECONDS <= seconds <= MAX_SECONDS or len(t_s) < MIN_ROWS:
        raise RecordingError(
            f"the recording lasts {seconds:.3g} s; {MIN_SECONDS:.0f} s to 33 minutes can be read",
            field="time",
            remedy="Check the unit of the time column",
        )
    rate_hz = 1 / float(np.median(np.diff(t_s)))
    # The rate that the samples keep on average, gaps included.
    active = (len(t_s) - 1) / seconds
    if active < LEAST_PRESENT * rate_hz:
        raise RecordingError(
            "most of the recording is missing", field="time", remedy="Record again in one piece"
        )
    rate_hz = active if active > LEAST_WHOLE * rate_hz else rate_hz
    # The median and not the mean: a few seconds in a hand must not decide.
    size = float(np.linalg.norm(np.median(acc_ms2, axis=0)))
    has_gravity = 0.8 * GRAVITY_MS2 < size < 1.2 * GRAVITY_MS2
    remarks = [*(notes or []), *rate_notes(t_s, rate_hz, top_rpm)]
    if not has_gravity:
        remarks.append(
            Note(
                "no_gravity",
                "Gravity is not in the readings; the phone was taken to lie flat, z upwards.",
            )
        )
    step, clipped = finest_step(acc_ms2), clipping(acc_ms2)
    remarks += value_notes(acc_ms2, step, clipped)
    return Recording(t_s, acc_ms2, rate_hz, step, has_gravity, clipped, tuple(remarks))
