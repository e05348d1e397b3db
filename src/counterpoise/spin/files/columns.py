"""Which column is what, in which unit: by the user's word, the header, or the numbers."""

import re
from dataclasses import dataclass

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import EXPORT_AGAIN
from counterpoise.spin.files.csv_table import TableLayout, is_iso_time, is_number, is_value
from counterpoise.spin.recording import GRAVITY_MS2, Floats, FormatHints, Note

TIME_UNITS_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "iso": 1.0}
ACC_UNITS_MS2 = {"m/s2": 1.0, "g": GRAVITY_MS2, "mg": GRAVITY_MS2 * 1e-3, "cm/s2": 0.01}

# Header names as programs write them, in English and the neighbouring languages (from memory).
_TIME_NAME = re.compile(
    r"^(t|time|zeit|temps|tiempo|tempo|timestamp|time ?stamp|seconds?|millis|elapsed|epoch"
    r"|uptime)\b"
)
_AXIS_NAME = re.compile(
    r"(^|[^a-z])(a|acc|accel|acceleration|g|gf|lin|f)?[ _.\-]*([xyz])($|[^a-z])"
)
_OTHER_SENSOR = re.compile(r"gyr|rot|mag|orient|quat|angle|omega|deg|rad")
# "gx" is gravity's share in some files and the gyroscope's first axis in others.
_GYRO_OR_G = re.compile(r"^g[ _.\-]*[xyz]\b")
_WITHOUT_GRAVITY = re.compile(r"lin|user|no ?grav|without")
# The order settles doubt: "cm/s2" contains "m/s2", and "mg" contains "g".
_ACC_UNIT_IN_NAME = (
    ("cm/s2", re.compile(r"cm ?/ ?s|cms2|gal\b")),
    ("m/s2", re.compile(r"m ?/ ?s|ms-?[2²]|m\.s|ms\^")),
    ("mg", re.compile(r"\bmg\b|_mg$")),
    ("g", re.compile(r"[(\[_ ]g[)\] ]|[(\[_ ]g$|^gf")),
)
_TIME_UNIT_IN_NAME = (
    ("ns", re.compile(r"\bns\b|_ns$|nano")),
    ("us", re.compile(r"\b[uµ]s\b|_us$|micro")),
    ("ms", re.compile(r"\bms\b|_ms$|milli")),
    ("s", re.compile(r"\bs\b|_s$|sec")),
)
# Steps between samples: 5 to 2000 a second, which leaves no doubt between units 1000 apart.
_STEPS_S = (0.0005, 0.2)
# So many readings in a row of an axis do not all rise.
LEAST_RISING = 20
# Sizes that gravity can have in each unit, sensor errors of some percent included.
_GRAVITY_SIZES = (
    ("m/s2", 9.0, 10.6),
    ("g", 0.92, 1.08),
    ("cm/s2", 900, 990),
    ("mg", 990, 1080),
)


@dataclass(frozen=True)
class Columns:
    """Positions of time (None: the rate was given) and x, y, z; units "" where no name has them."""

    time: int | None
    axes: tuple[int, int, int]
    time_unit: str
    acc_unit: str

    @property
    def wanted(self) -> tuple[int, ...]:
        """The indices of the columns to read, time first where there is one."""
        return self.axes if self.time is None else (self.time, *self.axes)


def find_columns(layout: TableLayout, hints: FormatHints) -> Columns:
    """Decide on the four columns: by the hints, the header, or the numbers, in this order.

    Raises RecordingError where they cannot be told apart or a unit is not known.
    """
    names = layout.names or ("",) * len(layout.sample[0])
    if hints.columns:
        time, axes = _by_hint(hints, names)
    else:
        time, axes = _by_name(names) or _by_position(layout, hints)
        _refuse_other_sensor([names[j] for j in axes])
    # One cell is enough: numbers never look like a date and time.
    iso = time is not None and any(
        is_iso_time(row[time]) for row in layout.sample if len(row) > time
    )
    time_name = "" if time is None else names[time]
    time_unit = hints.time_unit or ("iso" if iso else _unit_in(time_name, _TIME_UNIT_IN_NAME))
    # The unit of x stands for all three.
    acc_unit = hints.acc_unit or _unit_in(names[axes[0]], _ACC_UNIT_IN_NAME)
    for unit, known in ((time_unit, TIME_UNITS_S), (acc_unit, ACC_UNITS_MS2)):
        if unit and unit not in known:
            raise RecordingError(
                f"unit {unit!r} is not known", remedy="Use one of " + ", ".join(known)
            )
    return Columns(time, axes, time_unit, acc_unit)


def _by_hint(hints: FormatHints, names: tuple[str, ...]) -> tuple[int | None, tuple[int, int, int]]:
    places = [_place(column, names) for column in hints.columns]
    # Three columns and a rate: the file has no time, as some loggers write it.
    if len(places) == 3 and hints.rate_hz:
        return None, (places[0], places[1], places[2])
    if len(places) != 4:
        raise RecordingError("four columns are needed: time, x, y, z", field="columns")
    return places[0], (places[1], places[2], places[3])


def _place(column: str | int, names: tuple[str, ...]) -> int:
    if isinstance(column, int) and 0 <= column < len(names):
        return column
    if isinstance(column, str) and column.strip().lower() in names:
        return names.index(column.strip().lower())
    raise RecordingError(
        f"there is no column {column!r}",
        field="columns",
        remedy="The file has: " + ", ".join(names),
    )


def _by_name(names: tuple[str, ...]) -> tuple[int | None, tuple[int, int, int]] | None:
    time = next(
        (i for i, name in enumerate(names) if _TIME_NAME.match(name.replace("_", " "))), None
    )
    triples = []
    for places in _axes_by_sensor(names).values():
        if len(places) < len("xyz") or _OTHER_SENSOR.search(name := names[places["x"]]):
            continue
        # Readings with gravity come first: they say which way is up.
        other = (bool(_WITHOUT_GRAVITY.search(name)), bool(_GYRO_OR_G.match(name)))
        triples.append((*other, min(places.values()), places))
    if time is None or not triples:
        return None
    chosen = min(triples, key=lambda triple: triple[:3])[-1]
    return time, (chosen["x"], chosen["y"], chosen["z"])


def _axes_by_sensor(names: tuple[str, ...]) -> dict[str, dict[str, int]]:
    """Columns of the axes by what their names share, in whatever order a program writes them."""
    sensors: dict[str, dict[str, int]] = {}
    for i, name in enumerate(names):
        if match := _AXIS_NAME.search(name):
            at = match.start(3)
            # A second axis of the same name is left out: the first is as good.
            sensors.setdefault(name[:at] + name[at + 1 :], {}).setdefault(match.group(3), i)
    return sensors


def _refuse_other_sensor(names: list[str]) -> None:
    """Raise RecordingError where a header names the axes of a sensor other than acceleration."""
    # Numbers alone would not show it: a rotation looks like an acceleration without gravity.
    if all(_axis(name) and _OTHER_SENSOR.search(name) for name in names):
        raise RecordingError(
            f"the file holds no acceleration, only {', '.join(names)}",
            field="columns",
            remedy="Export the acceleration, or name the four columns",
        )


def _axis(name: str) -> str:
    match = _AXIS_NAME.search(name)
    return match.group(3) if match else ""


def _by_position(
    layout: TableLayout, hints: FormatHints
) -> tuple[int | None, tuple[int, int, int]]:
    width = len(layout.sample[0])
    numeric = [j for j in range(width) if _is_filled(layout, j)]
    # The first column that rises throughout, whether or not a counter stands before it.
    time = next((j for j in numeric if _rises(layout, j)), None)
    # Some programs write two times, of the day and since the start: neither is an axis.
    axes = [j for j in numeric if (time is None or j > time) and not _rises_strictly(layout, j)][:3]
    if len(axes) == 3 and (time is not None or hints.rate_hz):
        return time, (axes[0], axes[1], axes[2])
    if time is None and len(numeric) == 4:
        # Time out of order, perhaps; that is judged when all rows are read.
        return numeric[0], (numeric[1], numeric[2], numeric[3])
    raise RecordingError(
        "no column of time and three of acceleration could be told apart",
        field="columns",
        remedy="Name the four columns, or give the sample rate if there is no time column. "
        + EXPORT_AGAIN,
    )


def _is_filled(layout: TableLayout, column: int) -> bool:
    cells = [row[column] for row in layout.sample if len(row) > column]
    return sum(map(is_value, cells)) * 2 > len(cells)


def _rises(layout: TableLayout, column: int) -> bool:
    cells = [row[column] for row in layout.sample if len(row) > column]
    if any(is_iso_time(cell) for cell in cells):
        return True
    values = np.array([float(cell.replace(",", ".")) for cell in cells if is_number(cell)])
    # Equal stamps may follow one another: clocks are coarser than sensors.
    return len(values) >= 3 and bool(np.all(np.diff(values) >= 0) and values[-1] > values[0])


def _rises_strictly(layout: TableLayout, column: int) -> bool:
    # Equal readings are common in a coarse axis, equal times are not.
    cells = [row[column] for row in layout.sample if len(row) > column]
    values = np.array([float(cell.replace(",", ".")) for cell in cells if is_number(cell)])
    return len(values) >= LEAST_RISING and bool(np.all(np.diff(values) > 0))


def _unit_in(name: str, known: tuple[tuple[str, re.Pattern[str]], ...]) -> str:
    return next((unit for unit, pattern in known if pattern.search(name)), "")


def time_unit_of(t: Floats) -> str:
    """Find the unit of times (n,) from their typical step: 5 to 2000 samples a second.

    Raises RecordingError where no unit fits.
    """
    steps = np.diff(t)
    # Equal and backward stamps would make the typical step too small.
    steps = steps[steps > 0]
    step = float(np.median(steps)) if len(steps) else 0.0
    for unit, scale in (("s", 1.0), ("ms", 1e-3), ("us", 1e-6), ("ns", 1e-9)):
        if _STEPS_S[0] <= step * scale <= _STEPS_S[1]:
            return unit
    raise RecordingError(
        "the time column does not look like 5 to 2000 samples a second in s, ms, us or ns",
        field="time",
        remedy="Say which column is the time and its unit",
    )


def acc_unit_of(acc: Floats) -> tuple[str, Note | None]:
    """Find the unit of readings (n, 3) from the size of gravity; without it m/s2, and a note."""
    size = float(np.linalg.norm(np.median(acc, axis=0)))
    for unit, low, high in _GRAVITY_SIZES:
        if low <= size <= high:
            return unit, None
    return "m/s2", Note(
        "unit_assumed",
        "Gravity is not in these numbers and no unit is named, so they were taken as m/s2.",
    )
