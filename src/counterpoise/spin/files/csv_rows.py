"""The numbers of a CSV table of known layout: only the wanted columns are kept in memory."""

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import NamedStream, line_blocks
from counterpoise.spin.files.csv_table import TableLayout, is_iso_time, is_value
from counterpoise.spin.files.sensors import SensorRows
from counterpoise.spin.recording import Floats

MAX_ROWS = 800_000  # 30 minutes at 400 Hz are 720 000
# No phone reads more, in any unit; a larger cell is a damaged one.
MAX_READING = 1e9


@dataclass
class LeftOut:
    """Rows left out: ``bad`` cannot be read, ``other`` are of other sensors, a ``second_table``."""

    bad: int = 0
    other: int = 0
    second_table: bool = False


@dataclass(frozen=True)
class Wanted:
    """Which cells to read: ``columns`` (from 0), that of ISO times, and the rows of one sensor."""

    columns: tuple[int, ...]
    iso_column: int | None = None
    sensor: SensorRows | None = None


def read_columns(file: NamedStream, layout: TableLayout, wanted: Wanted) -> tuple[Floats, LeftOut]:
    """Read the wanted columns of a whole file: (n, columns), and what was left out.

    A row with a missing cell or a word for a number is left out; an ISO time comes as seconds since
    1970. Raises RecordingError beyond 800000 rows.
    """
    blocks: list[Floats] = []
    left_out = LeftOut()
    rows, skip = 0, layout.first_line
    for block in line_blocks(file):
        lines, skip = block[skip:], max(0, skip - len(block))
        # Rows of other sensors go before the numbers are read, so that the fast way stays open.
        lines = _of_sensor(lines, layout, wanted, left_out)
        values = _parsed(lines, layout, wanted, left_out)
        # Time may be as large as epoch nanoseconds, so only readings have a limit.
        keep = np.isfinite(values).all(axis=1) & (np.abs(values[:, 1:]) < MAX_READING).all(axis=1)
        left_out.bad += int(np.sum(~keep))
        rows += len(values)
        # While reading, not at the end: the limit is there to bound memory.
        if rows > MAX_ROWS:
            raise RecordingError(
                f"{file.name} has more than {MAX_ROWS} rows",
                remedy="A spin needs 2 to 5 minutes; cut the file",
            )
        blocks.append(values[keep])
        if left_out.second_table:
            break
    return np.concatenate(blocks) if blocks else np.empty((0, len(wanted.columns))), left_out


def _of_sensor(
    lines: list[str], layout: TableLayout, wanted: Wanted, left_out: LeftOut
) -> list[str]:
    lines = [line for line in lines if line.strip()]
    if wanted.sensor is None:
        return lines
    kept = [line for line in lines if wanted.sensor.keeps(layout.cells(line))]
    left_out.other += len(lines) - len(kept)
    return kept


def _parsed(lines: list[str], layout: TableLayout, wanted: Wanted, left_out: LeftOut) -> Floats:
    """Values (rows, columns) of some lines, NaN where a cell could not be read."""
    if not lines:
        return np.empty((0, len(wanted.columns)))
    if wanted.iso_column is None and not layout.quoted:
        text = [line.replace(",", ".") for line in lines] if layout.decimal_comma else lines
        # numpy's own parser is much faster; it gives up at the first odd cell.
        try:
            return np.loadtxt(
                text, delimiter=layout.separator, usecols=wanted.columns, comments=None, ndmin=2
            )
        except (ValueError, OverflowError):
            pass
    rows = []
    for line in lines:
        cells = layout.cells(line)
        if _is_other_header(cells, layout):
            left_out.second_table = True
            break
        if _is_of_other_columns(cells, wanted):
            left_out.other += 1
            continue
        rows.append(_row(cells, layout, wanted))
    return np.array(rows, dtype=np.float64).reshape(len(rows), len(wanted.columns))


def _is_other_header(cells: list[str], layout: TableLayout) -> bool:
    """Whether a row begins another table: as many words as the header, and not the header again.

    Programs that log several sensors write one table below the other, each from time 0.
    """
    # Without a header nothing says that words in a row are one.
    if not layout.names or len(cells) < 3 or not all(cells) or any(map(is_value, cells)):
        return False
    named = tuple(cell.lstrip("#").strip().lower() for cell in cells)
    axes = {match.group(1) for name in named if (match := re.search(r"([xyz])($|[^a-z])", name))}
    return named != layout.names and axes == {"x", "y", "z"}


def _is_of_other_columns(cells: list[str], wanted: Wanted) -> bool:
    """Whether a row leaves all three axes empty, for another sensor that has columns of its own."""
    axes = wanted.columns[-3:]
    return len(cells) > max(axes) and not any(cells[j] for j in axes) and sum(map(bool, cells)) > 1


def _row(cells: list[str], layout: TableLayout, wanted: Wanted) -> list[float]:
    number = _number_reader(layout)
    readers = [_iso_seconds if j == wanted.iso_column else number for j in wanted.columns]
    return [
        read(cells[j]) if j < len(cells) else np.nan
        for read, j in zip(readers, wanted.columns, strict=True)
    ]


def _number_reader(layout: TableLayout) -> Callable[[str], float]:
    def convert(cell: str) -> float:
        try:
            return float(cell.replace(",", ".") if layout.decimal_comma else cell)
        except ValueError:
            return float("nan")

    return convert


def _iso_seconds(cell: str) -> float:
    """Seconds since 1970; the offset of the time zone is dropped, for only differences matter."""
    if not is_iso_time(cell):
        return float("nan")
    plain = re.sub(r"(Z|[+-]\d\d:?\d\d)$", "", cell.replace(",", "."))
    try:
        return float(np.datetime64(plain.replace(" ", "T"), "ns").astype(np.int64)) * 1e-9
    except ValueError:
        return float("nan")
