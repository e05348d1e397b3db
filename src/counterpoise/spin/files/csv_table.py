"""How an unknown CSV table is written: separator, decimal mark, quotes, header, first data line."""

import csv
import re
from dataclasses import dataclass

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import EXPORT_AGAIN, NamedStream, head_text

MAX_COLUMNS = 256
HEAD_LINES = 400
SAMPLE_ROWS = 60

_NUMBER = re.compile(
    r"^[+-]?(\d+[.,]?\d*|[.,]\d+)(e[+-]?\d+)?$|^[+-]?(nan|inf(inity)?)$", re.IGNORECASE
)
_ISO = re.compile(r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?(Z|[+-]\d\d:?\d\d)?$")


@dataclass(frozen=True)
class TableLayout:
    """How a text table is written; ``separator`` None stands for runs of blanks.

    ``names`` are the header's, lower case, empty where there is none; data starts at line
    ``first_line`` (from 0); ``sample`` holds the cells of the first rows.
    """

    separator: str | None
    decimal_comma: bool
    quoted: bool
    names: tuple[str, ...]
    first_line: int
    sample: tuple[tuple[str, ...], ...]

    def cells(self, line: str) -> list[str]:
        """Split one line into bare cells; an empty line gives an empty list or one empty cell."""
        # The csv module is slower than split, so it is used only where it is needed.
        if self.quoted and self.separator is not None:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.separator), [])]
        return [cell.strip() for cell in line.split(self.separator)]


def is_number(cell: str) -> bool:
    """Whether a cell reads as a number with a point or a comma."""
    return bool(_NUMBER.match(cell))


def is_iso_time(cell: str) -> bool:
    """Whether a cell is a date and time after ISO 8601."""
    return bool(_ISO.match(cell))


def is_value(cell: str) -> bool:
    """Whether a cell is a number or a date and time after ISO 8601."""
    return is_number(cell) or is_iso_time(cell)


def detect_layout(file: NamedStream, *, decimal_comma: bool | None = None) -> TableLayout:
    """Find separator, decimal mark, header and first data line of a file.

    Raises RecordingError where no table of three columns or more is in the first 400 lines.
    """
    head = head_text(file).splitlines()[:HEAD_LINES]
    best: TableLayout | None = None
    # The order settles ties: a semicolon separates where commas are decimal marks.
    for separator in (";", "\t", ",", "|", None):
        trial = _try_separator(head, separator, decimal_comma)
        if trial and (best is None or _good_rows(trial) > _good_rows(best)):
            best = trial
    if best is None:
        raise RecordingError(
            f"{file.name} has no table of numbers with at least three columns", remedy=EXPORT_AGAIN
        )
    if len(best.sample[0]) > MAX_COLUMNS:
        raise RecordingError(
            f"{file.name} has more than {MAX_COLUMNS} columns", remedy=EXPORT_AGAIN
        )
    return best


def _good_rows(trial: TableLayout) -> int:
    """Sample rows as wide as the first that hold three values or more."""
    width = len(trial.sample[0])
    # Rows as wide as the first: a wrong separator makes ragged ones.
    return sum(len(row) == width and sum(map(is_value, row)) >= 3 for row in trial.sample)


def _try_separator(
    head: list[str], separator: str | None, decimal_comma: bool | None
) -> TableLayout | None:
    quoted = any('"' in line for line in head)
    bare = TableLayout(separator, False, quoted, (), 0, ())
    rows = [tuple(bare.cells(line)) if line.strip() else () for line in head]
    start = next((i for i, row in enumerate(rows) if _starts_data(row)), None)
    if start is None:
        return None
    sample = tuple(row for row in rows[start : start + SAMPLE_ROWS] if row)
    width = len(sample[0])
    # The last line above the data is the header if it has as many cells; else it is a remark.
    above = next((row for row in reversed(rows[:start]) if row), ())
    names = tuple(name.lstrip("#").strip().lower() for name in above) if len(above) == width else ()
    comma = decimal_comma
    if comma is None:
        # A comma that separates can be a decimal mark too only between quotes.
        comma = (separator != "," or quoted) and _uses_comma(sample)
    return TableLayout(separator, comma, quoted, names, start, sample)


def _starts_data(row: tuple[str, ...]) -> bool:
    # Blank cells do not count: a row of one sensor leaves the columns of all others empty.
    values = sum(map(is_value, row))
    return values >= 3 and values * 2 >= sum(map(bool, row))


def _uses_comma(sample: tuple[tuple[str, ...], ...]) -> bool:
    # A comma in any number and a point in none, or "1,5" could be two numbers.
    cells = [cell for row in sample for cell in row if is_number(cell)]
    return any("," in cell for cell in cells) and not any("." in cell for cell in cells)
