"""From a file of unknown habits to columns of numbers, in bounded memory.

The text is streamed in pieces of about 1 MB; only the wanted columns are kept. Limits: 200 MB of text,
256 columns, 800 000 rows (30 minutes at 400 Hz is 720 000).
"""

import csv
import re
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.recording import Floats

MAX_TEXT_BYTES = 200_000_000
MAX_ROWS = 800_000
MAX_COLUMNS = 256
HEAD_BYTES = 65_536
CHUNK_BYTES = 1_000_000
EXPORT_AGAIN = "Export the recording again as a plain CSV table: time, x, y, z"

_NUMBER = re.compile(
    r"^[+-]?(\d+[.,]?\d*|[.,]\d+)(e[+-]?\d+)?$|^[+-]?(nan|inf(inity)?)$", re.IGNORECASE
)
_ISO = re.compile(r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?(Z|[+-]\d\d:?\d\d)?$")


@dataclass(frozen=True)
class Layout:
    """How a text table is written: separator, decimal mark, quotes, header names, line where data starts."""

    separator: str | None  # None: runs of blanks
    decimal_comma: bool
    quoted: bool
    names: tuple[str, ...]
    first_line: int
    sample: tuple[tuple[str, ...], ...]

    def cells(self, line: str) -> list[str]:
        """Split one line into bare cells."""
        if self.quoted and self.separator is not None:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.separator), [])]
        return [cell.strip() for cell in line.split(self.separator)]


def is_number(cell: str) -> bool:
    """Whether a cell reads as a number with a point or a comma."""
    return bool(_NUMBER.match(cell))


def is_iso_time(cell: str) -> bool:
    """Whether a cell is a date and time after ISO 8601."""
    return bool(_ISO.match(cell))


def pieces(path: Path) -> Iterator[bytes]:
    """Yield the (unpacked) bytes of a file; stop with a clear error at the limit."""
    total = 0
    with path.open("rb") as raw:
        packed = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        for piece in _unpacked(raw, path) if packed else iter(lambda: raw.read(CHUNK_BYTES), b""):
            total += len(piece)
            if total > MAX_TEXT_BYTES:
                raise RecordingError(
                    f"{path.name} unpacks to more than {MAX_TEXT_BYTES // 1_000_000} MB of text",
                    remedy="A spin needs 2 to 5 minutes of recording; cut the file",
                )
            yield piece


def _unpacked(raw: BinaryIO, path: Path) -> Iterator[bytes]:
    """Unpack gzip piece by piece; of a file that was cut off, what arrived is still good."""
    packed, unpack = b"", zlib.decompressobj(wbits=31)
    try:
        while packed := packed or raw.read(HEAD_BYTES):
            if unpack.eof:
                unpack = zlib.decompressobj(wbits=31)
            if piece := unpack.decompress(packed, CHUNK_BYTES):
                yield piece
            packed = unpack.unused_data if unpack.eof else unpack.unconsumed_tail
    except zlib.error as error:
        raise RecordingError(
            f"{path.name} is damaged: it cannot be unpacked", remedy="Send it again"
        ) from error


def lines(path: Path) -> Iterator[list[str]]:
    """Yield lists of whole lines, blank ones included."""
    rest = b""
    for piece in pieces(path):
        block = rest + piece
        cut = max(block.rfind(b"\n"), block.rfind(b"\r", 0, len(block) - 1)) + 1
        rest = block[cut:]
        if len(rest) > HEAD_BYTES:
            raise RecordingError(
                f"{path.name} has a line of more than {HEAD_BYTES} characters", remedy=EXPORT_AGAIN
            )
        if cut:
            yield block[:cut].decode("latin-1").splitlines()
    if rest:
        yield rest.decode("latin-1").splitlines()


def head_text(path: Path) -> str:
    """Give the first 64 kB as text, or say why this is no text table."""
    with_mark = next(pieces(path), b"")[:HEAD_BYTES]
    if not with_mark.strip():
        raise RecordingError(f"{path.name} is empty", remedy="Record again")
    for mark, kind in (
        (b"PK\x03\x04", "a ZIP archive"),
        (b"RIFF", "a sound file"),
        (b"%PDF", "a PDF"),
    ):
        if with_mark.startswith(mark):
            raise RecordingError(
                f"{path.name} is {kind}, not a CSV table", remedy="Give the CSV file itself"
            )
    if b"\0" in with_mark or with_mark[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        raise RecordingError(
            f"{path.name} is not a text table in plain or UTF-8 text",
            remedy="Save it as CSV, UTF-8",
        )
    return with_mark.decode("latin-1").removeprefix("\u00ef\u00bb\u00bf")


def layout(path: Path, *, decimal_comma: bool | None = None) -> Layout:
    """Find separator, decimal mark, header and first data line of a file."""
    found = head_text(path).splitlines()[:400]
    best: Layout | None = None
    for separator in (";", "\t", ",", "|", None):
        trial = _try_separator(found, separator, decimal_comma)
        if trial and (best is None or _good_rows(trial) > _good_rows(best)):
            best = trial
    if best is None:
        raise RecordingError(
            f"{path.name} has no table of numbers with at least three columns", remedy=EXPORT_AGAIN
        )
    if len(best.sample[0]) > MAX_COLUMNS:
        raise RecordingError(
            f"{path.name} has more than {MAX_COLUMNS} columns", remedy=EXPORT_AGAIN
        )
    return best


def _good_rows(trial: Layout) -> float:
    width = len(trial.sample[0])
    return sum(len(row) == width and sum(map(_is_value, row)) >= 3 for row in trial.sample)


def _is_value(cell: str) -> bool:
    return is_number(cell) or is_iso_time(cell)


def _try_separator(
    found: list[str], separator: str | None, decimal_comma: bool | None
) -> Layout | None:
    quoted = any('"' in line for line in found)
    bare = Layout(separator, False, quoted, (), 0, ())
    rows = [tuple(bare.cells(line)) if line.strip() else () for line in found]
    start = next((i for i, row in enumerate(rows) if _starts_data(row)), None)
    if start is None:
        return None
    sample = tuple(row for row in rows[start : start + 60] if row)
    width = len(sample[0])
    above = next((row for row in reversed(rows[:start]) if row), ())
    names = tuple(name.lstrip("#").strip().lower() for name in above) if len(above) == width else ()
    comma = decimal_comma
    if comma is None:
        comma = (separator != "," and _uses_comma(sample)) or (quoted and _uses_comma(sample))
    return Layout(separator, comma, quoted, names, start, sample)


def _starts_data(row: tuple[str, ...]) -> bool:
    values = sum(map(_is_value, row))
    return values >= 3 and values * 2 >= len(row)


def _uses_comma(sample: tuple[tuple[str, ...], ...]) -> bool:
    cells = [cell for row in sample for cell in row if is_number(cell)]
    return any("," in cell for cell in cells) and not any("." in cell for cell in cells)


def read_columns(
    path: Path, how: Layout, columns: tuple[int, ...], iso_column: int | None
) -> tuple[Floats, int]:
    """Read the wanted columns of a whole file.

    Gives (n, len(columns)) floats, NaN where a cell could not be read (an ISO time comes as seconds since
    1970), and the number of rows left out because a cell was missing or was no number.
    """
    blocks: list[Floats] = []
    rows, bad, skip = 0, 0, how.first_line
    for some in lines(path):
        wanted, skip = some[skip:], max(0, skip - len(some))
        block = _parse(wanted, how, columns, iso_column)
        keep = np.isfinite(block).all(axis=1) & (np.abs(block[:, 1:]) < 1e9).all(axis=1)
        bad += int(np.sum(~keep))
        rows += len(block)
        if rows > MAX_ROWS:
            raise RecordingError(
                f"{path.name} has more than {MAX_ROWS} rows",
                remedy="A spin needs 2 to 5 minutes; cut the file",
            )
        blocks.append(block[keep])
    return np.concatenate(blocks) if blocks else np.empty((0, len(columns))), bad


def _parse(
    some: list[str], how: Layout, columns: tuple[int, ...], iso_column: int | None
) -> Floats:
    some = [line for line in some if line.strip()]
    if not some:
        return np.empty((0, len(columns)))
    if iso_column is None and not how.quoted:
        text = [line.replace(",", ".") for line in some] if how.decimal_comma else some
        try:
            return np.loadtxt(
                text, delimiter=how.separator, usecols=columns, comments=None, ndmin=2
            )
        except (ValueError, OverflowError):
            pass
    return np.array([_row(how.cells(line), how, columns, iso_column) for line in some], dtype=float)


def _row(
    cells: list[str], how: Layout, columns: tuple[int, ...], iso_column: int | None
) -> list[float]:
    number = _number(how)
    readers = [_iso_seconds if column == iso_column else number for column in columns]
    return [
        read(cells[column]) if column < len(cells) else np.nan
        for read, column in zip(readers, columns, strict=True)
    ]


def _number(how: Layout) -> Callable[[str], float]:
    def convert(cell: str) -> float:
        try:
            return float(cell.replace(",", ".") if how.decimal_comma else cell)
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
