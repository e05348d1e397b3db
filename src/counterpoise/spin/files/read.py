"""Read a recording: the front door of the files-in part of this room."""

from pathlib import Path

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.columns import (
    ACC_UNITS_MS2,
    TIME_UNITS_S,
    Columns,
    acc_unit_of,
    find_columns,
    time_unit_of,
)
from counterpoise.spin.files.csv_table import layout, read_columns
from counterpoise.spin.files.quality import (
    clipping,
    finest_step,
    rate_notes,
    tidy_time,
    value_notes,
)
from counterpoise.spin.recording import GRAVITY_MS2, Floats, Note, Recording, Told

MIN_ROWS = 50
MIN_SECONDS = 5.0
MAX_SECONDS = 2000.0


def read_recording(
    path: Path, told: Told | None = None, *, top_rpm: float | None = None
) -> Recording:
    """Read a CSV or CSV.gz of time and three accelerations.

    Raises RecordingError, in plain words, for anything that cannot be read.
    """
    told = told or Told()
    try:
        how = layout(path, decimal_comma=told.decimal_comma)
        columns = find_columns(how, told)
        iso = columns.time if columns.time_unit == "iso" else None
        table, bad = read_columns(path, how, columns.wanted, iso)
    except OSError as error:
        raise RecordingError(
            f"{path.name} cannot be opened: {error.strerror}", remedy="Check the name"
        ) from error
    if len(table) < MIN_ROWS:
        raise RecordingError(
            f"{path.name} has only {len(table)} rows that can be read", remedy="Record a whole spin"
        )
    if bad > len(table):
        raise RecordingError(
            f"{path.name}: {bad} of {bad + len(table)} rows cannot be read",
            remedy="Export it again",
        )
    notes = [Note("bad_rows", f"{bad} rows could not be read and were left out.")] if bad else []
    return from_table(table, columns, told, notes, top_rpm=top_rpm)


def from_table(
    table: Floats,
    columns: Columns,
    told: Told,
    notes: list[Note] | None = None,
    *,
    top_rpm: float | None = None,
) -> Recording:
    """Turn raw columns into a recording in SI units."""
    notes = list(notes or [])
    t_s = _seconds(table, columns, told)
    acc = table[:, -3:]
    t_s, acc, more = tidy_time(t_s, acc)
    unit, assumed = (columns.acc_unit, None) if columns.acc_unit else acc_unit_of(acc)
    return recording(
        t_s,
        acc * ACC_UNITS_MS2[unit],
        [*notes, *more, *([assumed] if assumed else [])],
        top_rpm=top_rpm,
    )


def _seconds(table: Floats, columns: Columns, told: Told) -> Floats:
    if columns.time is None:
        if not told.rate_hz or not 5 <= told.rate_hz <= 4000:
            raise RecordingError("the sample rate must lie between 5 and 4000 Hz", field="rate_hz")
        return np.arange(len(table)) / told.rate_hz
    t = table[:, 0] - table[0, 0]
    seconds: Floats = t * TIME_UNITS_S[columns.time_unit or time_unit_of(t)]
    return seconds


def recording(
    t_s: Floats, acc_ms2: Floats, notes: list[Note] | None = None, *, top_rpm: float | None = None
) -> Recording:
    """Make a recording from samples already in seconds (rising, from 0) and m/s2, and judge its quality."""
    seconds = float(t_s[-1] - t_s[0]) if len(t_s) else 0.0
    if not MIN_SECONDS <= seconds <= MAX_SECONDS or len(t_s) < MIN_ROWS:
        raise RecordingError(
            f"the recording lasts {seconds:.3g} s; {MIN_SECONDS:.0f} s to 33 minutes can be read",
            field="time",
            remedy="Check the unit of the time column",
        )
    rate_hz = 1 / float(np.median(np.diff(t_s)))
    active = (len(t_s) - 1) / seconds
    if active < 0.3 * rate_hz:
        raise RecordingError(
            "most of the recording is missing", field="time", remedy="Record again in one piece"
        )
    rate_hz = active if active > 0.7 * rate_hz else rate_hz
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
