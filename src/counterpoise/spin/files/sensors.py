"""Rows of several sensors in one table: which are the acceleration.

Programs that log a whole phone write one row a reading and name the sensor in a column. Read as one
signal such a table is all knocks, so its rows are told apart by that column, or it is refused.
"""

import re
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import NamedStream, line_blocks
from counterpoise.spin.files.csv_table import SAMPLE_ROWS, TableLayout, is_number, is_value
from counterpoise.spin.recording import Floats

# Beyond this many different values a column is no name of a sensor.
MOST_SENSORS = 32
# Rows in turn: how many sensors at most, and by how much of gravity their means must differ.
MOST_IN_TURN = 4
IN_TURN_APART = 0.3
SAME_BLOCKS = 0.8
# Rows looked at together: short, so that a lost row throws only one block out of turn.
BLOCK_ROWS = 60
# Share of changes from row to row above which two names alternate and are no phases of a wash.
ALTERNATES = 0.1

_SENSOR_COLUMN = re.compile(
    r"(sensor|type|kind|source|device|stream)([ _.\-]?(id|type|no|nr|number|code|name|kind))?"
)
_ACCELERATION = re.compile(r"(^|[^a-z])(acc|accel|acceleration|accelerometer|beschleunigung\w*)\b")
_ROTATION_OR_OTHER = re.compile(
    r"gyr|rot|mag|orient|quat|gravit|baro|pressure|light|proxim|compass|heading|gps|locat|temp"
    r"|dreh|kreisel|gir[oó]|omega"
)
# Gravity is what tells up from down, and raw readings drift: both kinds come second.
_SECOND_CHOICE = re.compile(r"lin|user|no ?grav|without|uncal|raw")


@dataclass(frozen=True)
class SensorRows:
    """The rows that count: those with ``value`` (lower case) in column ``column`` (from 0)."""

    column: int
    value: str

    def keeps(self, cells: list[str]) -> bool:
        """Whether a row of cells belongs to the acceleration; False where the cell is missing."""
        return len(cells) > self.column and cells[self.column].lower() == self.value


@dataclass
class _Tally:
    """How often each value of a column comes and how often it changes; first rows of each."""

    count: Counter[str]
    first: dict[str, list[tuple[str, ...]]]
    changes: int = 0


def acceleration_rows(
    file: NamedStream, layout: TableLayout
) -> tuple[SensorRows | None, TableLayout]:
    """Find the rows of the acceleration where a column names the sensor, and a layout of only them.

    None, and the layout as it was, where every row is of one sensor. Raises RecordingError where
    several sensors cannot be told apart, or none is an acceleration.
    """
    for column in _candidates(layout):
        tally = _tally(file, layout, column)
        name = layout.names[column] if layout.names else ""
        # Free text; there is no need to go on counting it.
        if len(tally.count) > MOST_SENSORS or not _names_sensors(name, tally):
            continue
        value = _acceleration_in(file, name, column, tally.count)
        # Every row is of one sensor: nothing to tell apart.
        if len(tally.count) == 1:
            return None, layout
        return SensorRows(column, value), replace(layout, sample=tuple(tally.first[value]))
    return None, layout


def _candidates(layout: TableLayout) -> list[int]:
    """Columns of words, and columns of any kind that the header calls a sensor."""
    columns = []
    for j in range(len(layout.sample[0])):
        cells = [row[j] for row in layout.sample if len(row) > j and row[j]]
        # Most cells that are filled: a remark here and there makes no column of words.
        of_words = 2 * sum(not is_value(cell) for cell in cells) > len(cells)
        if of_words or (layout.names and _SENSOR_COLUMN.fullmatch(layout.names[j])):
            columns.append(j)
    return columns


def _tally(file: NamedStream, layout: TableLayout, column: int) -> _Tally:
    """Go through the whole file once: sensors often follow one another in blocks."""
    tally = _Tally(Counter(), {})
    skip, last = layout.first_line, ""
    for block in line_blocks(file):
        lines, skip = block[skip:], max(0, skip - len(block))
        for line in lines:
            cells = layout.cells(line)
            if len(cells) <= column or sum(map(is_value, cells)) < 3:
                continue
            # Programs write one and the same sensor in one and the same way, but for capitals.
            value = cells[column].lower()
            tally.count[value] += 1
            tally.changes += value != last
            last = value
            rows = tally.first.setdefault(value, [])
            if len(rows) < SAMPLE_ROWS:
                rows.append(tuple(cells))
        if len(tally.count) > MOST_SENSORS:
            break
    return tally


def _names_sensors(name: str, tally: _Tally) -> bool:
    """Whether a column tells sensors apart, and not phases of the wash or remarks."""
    if _SENSOR_COLUMN.fullmatch(name):
        return True
    # Two kinds at least: "rotating" as a remark on one signal names no sensor.
    acceleration = [v for v in tally.count if _ACCELERATION.search(v)]
    others = [v for v in tally.count if _ROTATION_OR_OTHER.search(v)]
    if (acceleration and others) or len(others) > 1:
        return True
    # "acceleration" is a phase of a spin too, but phases last.
    alternates = tally.changes > ALTERNATES * tally.count.total()
    return bool(acceleration) and len(tally.count) > 1 and alternates


def _acceleration_in(file: NamedStream, name: str, column: int, values: Counter[str]) -> str:
    """The value of acceleration with gravity, else of any. Raises RecordingError."""
    # One sensor under a name we do not know may well be the acceleration; its numbers decide later.
    if len(values) == 1 and not _ROTATION_OR_OTHER.search(only := next(iter(values))):
        return only
    fitting = [value for value in values if _ACCELERATION.search(value)]
    if fitting:
        return min(fitting, key=lambda v: (bool(_SECOND_CHOICE.search(v)), -values[v]))
    where = f"column {name!r}" if name else f"column {column}"
    listed = ", ".join(sorted(values)[:6])
    numbered = all(is_number(value) for value in values)
    raise RecordingError(
        f"{file.name} mixes rows of several sensors ({where}: {listed}); none is named acceleration"
        if len(values) > 1
        else f"{file.name} holds no acceleration, only {listed} ({where})",
        field="columns",
        remedy="Export the acceleration alone"
        + (", or write names instead of numbers into that column" if numbered else ""),
    )


def refuse_rows_in_turn(file: NamedStream, acc: Floats) -> None:
    """Refuse a table whose rows (n, 3) come from two to four sensors in turn, unnamed.

    Raises RecordingError. A tone at a whole fraction of the sample rate has means that differ in
    turn too, but they wander as the speed does; those of sensors are the same in every block.
    """
    for turn in range(2, MOST_IN_TURN + 1):
        rows = BLOCK_ROWS - BLOCK_ROWS % turn
        count = len(acc) // rows
        if count < 3:
            return
        blocks = acc[: count * rows].reshape(count, rows // turn, turn, 3)
        # Medians (blocks, turn, 3), so that knocks and bumps do not matter.
        middle = np.median(blocks, axis=1)
        apart = _from_largest(middle - middle.mean(axis=1, keepdims=True))
        usual = np.median(apart, axis=0)
        largest = np.linalg.norm(usual, axis=1).max()
        same = np.linalg.norm(apart - usual, axis=(1, 2)) < 0.5 * largest
        size = np.median(np.linalg.norm(middle.mean(axis=1), axis=1))
        if largest > IN_TURN_APART * size and np.mean(same) > SAME_BLOCKS:
            raise RecordingError(
                f"{file.name} seems to mix rows of {turn} sensors in turn; no column names them",
                field="columns",
                remedy="Export the acceleration alone",
            )


def _from_largest(apart: Floats) -> Floats:
    """Turn each block (blocks, turn, 3) so that the place furthest out comes first."""
    # A lost row shifts the turn of all that follow. Of two places opposite each other, as far out
    # both, the one with the larger sum comes first.
    far = np.linalg.norm(apart, axis=2) + 1e-6 * apart.sum(axis=2)
    count, turn = far.shape
    order = (far.argmax(axis=1)[:, None] + np.arange(turn)) % turn
    turned: Floats = apart[np.arange(count)[:, None], order]
    return turned
