"""A supplier's list as it came: from bytes of unknown make to rows of cells, in bounded memory.

Each line is a record of its own, so that a quotation mark nobody closed spoils one line and not the
rest.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from counterpoise.errors import InputError
from counterpoise.workshop.parts.column_names import COLUMNS, column_of, plain_name

# a supplier's whole catalog has a tenth of that; more is a mistake or an attack
MOST_BYTES = 5_000_000
MOST_LINES = 50_000
MOST_COLUMNS = 64
# longer is a text in a cell, or a file without line breaks
LONGEST_LINE = 4_000
# what table programs of the last thirty years write in Europe (common practice)
ENCODINGS = ("utf-8", "utf-16", "cp1252", "latin-1", "cp1250", "cp850", "mac-roman")
# the first that names the most columns wins, so the likeliest stands first
SEPARATORS = {";": "semicolon", "\t": "tab", ",": "comma", "|": "bar"}
# letterheads of suppliers are shorter (from memory)
_HEAD_LINES = 20
_AS_CSV = "Open it in your table program and save it as CSV (UTF-8)"
# first bytes by which a file shows that it is no table; people send what they have open
_KINDS_OF_FILE = {
    b"PK\x03\x04": "a workbook or a ZIP archive",
    b"\xd0\xcf\x11\xe0": "an old workbook",
    b"%PDF": "a PDF",
    b"\x1f\x8b": "packed (gz)",
    b"{\\rtf": "a text with layout",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a photo",
}
_MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
_BREAK = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True, slots=True)
class CsvRow:
    """A line of the list: its number in the file from 1, its cells.

    ``fault`` says why where it could not be split, and is empty otherwise.
    """

    line: int
    cells: tuple[str, ...]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class CsvSheet:
    """A list split into rows.

    ``at``: the index of each known column; ``heads`` as the file names them.
    """

    encoding: str
    separator: str
    heads: tuple[str, ...]
    at: Mapping[str, int]
    rows: tuple[CsvRow, ...]


def read_sheet(
    data: bytes,
    columns: Mapping[str, str] | None = None,
    *,
    separator: str = "",
    encoding: str = "",
) -> CsvSheet:
    """Split a list. ``columns`` says which column is which where that is not plain.

    It names each by its head or its number from 1. Raises InputError where the file is no table,
    or where its columns cannot be told.
    """
    text, encoding_used = _text(data, encoding)
    # every break counts, also inside quotation marks: see the top of the file
    lines = _BREAK.split(text)
    if len(lines) > MOST_LINES:
        raise InputError(
            f"file: more than {MOST_LINES} lines", field="file", remedy="Split the list"
        )
    given = {name: head.strip() for name, head in (columns or {}).items() if head.strip()}
    _check_names(given)
    # what somebody said of the columns helps to find the head
    start, heads, mark = _head(lines, given, _separator(separator))
    at = _places(heads, given)
    return CsvSheet(encoding_used, mark, heads, at, tuple(_rows(lines, start, mark)))


def _check_names(given: Mapping[str, str]) -> None:
    for name in given:
        if name not in COLUMNS:
            raise InputError(
                f"columns: there is no column {name[:40]!r}",
                field="columns",
                remedy=f"Known are {', '.join(COLUMNS)}",
            )


def _separator(given: str) -> str:
    # by its name on the page, or as the mark itself on the command line
    named = {name: mark for mark, name in SEPARATORS.items()} | {mark: mark for mark in SEPARATORS}
    if given and given not in named:
        raise InputError(
            f"separator: {given[:20]!r} is none",
            field="separator",
            remedy=f"Use one of {', '.join(named)[:60]}",
        )
    return named.get(given, "")


def _text(data: bytes, encoding: str) -> tuple[str, str]:
    """(text, encoding): the text of a file, and how it was written."""
    if len(data) > MOST_BYTES:
        size = f"{len(data) / 1e6:.1f} MB, at most {MOST_BYTES / 1e6:.0f} MB are read"
        raise InputError(
            f"file: it has {size}", field="file", remedy="Leave out what is not ours, or split it"
        )
    for mark, kind in _KINDS_OF_FILE.items():
        if data.startswith(mark):
            raise InputError(f"file: it is {kind}, not a table", field="file", remedy=_AS_CSV)
    text, encoding_used = _decoded(data, encoding)
    if not text.strip():
        raise InputError("file: it is empty", field="file", remedy="Send the list again")
    # a few stray control characters are no reason; a file full of them is no text
    if (
        "\0" in text
        or sum(letter < " " and letter not in "\t\r\n\f" for letter in text[:65_536]) > 8
    ):
        raise InputError("file: it is no text", field="file", remedy=_AS_CSV)
    return text, encoding_used


def _decoded(data: bytes, encoding: str) -> tuple[str, str]:
    if encoding and encoding not in ENCODINGS:
        remedy = f"Use one of {', '.join(ENCODINGS)}"
        raise InputError(
            f"encoding: {encoding[:40]!r} is not known", field="encoding", remedy=remedy
        )
    # latin-1 reads anything, so it comes last; a mark at the start leaves no choice
    marked = next((name for bom, name in _MARKS.items() if data.startswith(bom)), "")
    for name in [encoding] if encoding else [marked] if marked else ["utf-8", "cp1252", "latin-1"]:
        try:
            return data.decode(name).removeprefix("\ufeff"), name
        except UnicodeDecodeError:
            continue
    raise InputError(
        f"file: it is not written in {encoding or marked}", field="encoding", remedy=_AS_CSV
    )


def cells_of(line: str, separator: str) -> tuple[str, ...]:
    """The cells of a line without the blanks around them. Raises ValueError saying why not."""
    if len(line) > LONGEST_LINE:
        raise ValueError(f"the line has {len(line)} characters")
    try:
        # strict: a quotation mark in the wrong place is a fault, not part of a name
        row = next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error as error:
        raise ValueError("a quotation mark is not closed, or stands in the wrong place") from error
    if len(row) > MOST_COLUMNS:
        raise ValueError(f"the line has {len(row)} columns")
    return tuple(cell.strip() for cell in row)


def _rows(lines: Sequence[str], start: int, separator: str) -> Iterator[CsvRow]:
    for number, line in enumerate(lines[start:], start + 1):
        # lines of nothing but separators stand at the end of many a list
        if not line.strip(f"{separator} \t\f"):
            continue
        try:
            yield CsvRow(number, cells_of(line, separator))
        except ValueError as error:
            yield CsvRow(number, (), str(error))


def _head(
    lines: Sequence[str], given: Mapping[str, str], separator_given: str
) -> tuple[int, tuple[str, ...], str]:
    """(start, heads, separator): the index of the first line of data, and how it is split.

    Letters, addresses and dates stand above the heads of many a list; of the first lines, split by
    each separator, the one that names the most columns is the head.
    """
    best: tuple[int, int, tuple[str, ...], str] = (0, 0, (), "")
    for separator in [separator_given] if separator_given else SEPARATORS:
        for index, line in enumerate(lines[:_HEAD_LINES]):
            try:
                heads = cells_of(line, separator)
            except ValueError:
                continue
            # one known head can be chance (a supplier called "Price"); two are a head
            score = len(_places(heads, given, numbers=False))
            if score > best[0]:
                best = (score, index + 1, heads, separator)
    numbered = sum(head.isdecimal() for head in given.values())
    if best[0] >= 1 and best[0] + numbered >= 2:
        return best[1:]
    if given and all(head.isdecimal() for head in given.values()):
        return _headless(lines, separator_given)
    first = next((line.strip()[:80] for line in lines if line.strip()), "")
    raise InputError(
        f"file: no line names the columns; it begins {first!r}",
        field="columns",
        remedy="Say which column is which, like part=1, price=4, or by their heads",
    )


def _headless(lines: Sequence[str], given: str) -> tuple[int, tuple[str, ...], str]:
    """A list without heads: what parts the first lines into the most columns alike separates."""

    def alike(separator: str) -> tuple[int, int]:
        widths = [line.count(separator) for line in lines[:_HEAD_LINES] if line.strip()]
        # a comma inside prices or names comes in some lines only, a separator in all
        return (min(widths, default=0), sum(widths))

    separator = given or max(SEPARATORS, key=alike)
    first = next((line for line in lines if line.strip()), "")
    return 0, tuple(str(i + 1) for i in range(len(first.split(separator)))), separator


def _places(
    heads: Sequence[str], given: Mapping[str, str], *, numbers: bool = True
) -> dict[str, int]:
    """The index of each column: as given, else by what suppliers call it; the first of a name.

    ``numbers`` False: while the head is looked for, what does not fit is no mistake.
    """
    # compared as letters and digits: "Art.-Nr." is "ArtNr"
    plain = [plain_name(head) for head in heads]
    at: dict[str, int] = {}
    for column, head in given.items():
        if head.isdecimal():
            if numbers:
                at[column] = _numbered(head, column, len(heads))
        elif plain_name(head) in plain:
            at[column] = plain.index(plain_name(head))
        elif numbers:
            raise InputError(
                f"columns: no column is headed {head[:40]!r}",
                field=column,
                remedy=f"There are {_listed(heads)}",
            )
    for index, name in enumerate(plain):
        column = column_of(name)
        # the first of two columns of one name: list price before net price, as they are read
        if column and column not in given and column not in at and index not in at.values():
            at[column] = index
    return at


def _numbered(head: str, column: str, width: int) -> int:
    # nine digits hold any number of columns, and int() of a megabyte of digits takes long
    if not 1 <= int(head[:9]) <= max(width, 1):
        raise InputError(
            f"columns: there is no column {head[:9]}", field=column, remedy=f"There are {width}"
        )
    return int(head) - 1


def _listed(heads: Sequence[str]) -> str:
    return ", ".join(repr(head[:30]) for head in heads[:12]) or "none"
