"""What the commands say in the terminal, and the files that they write."""

from __future__ import annotations

import codecs
import json
import sys
import unicodedata
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

# How letters are written where the terminal knows no others than ASCII; what is not here loses its
# accent, else becomes a question mark.
_PLAIN = {
    # money and measures
    "\N{EURO SIGN}": "EUR",
    "\N{DEGREE SIGN}": " deg",
    "\N{MICRO SIGN}": "u",
    "\N{OHM SIGN}": "ohm",
    "\N{GREEK CAPITAL LETTER OMEGA}": "ohm",
    # signs between figures
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{MINUS SIGN}": "-",
    "\N{PLUS-MINUS SIGN}": "+/-",
    "\N{ALMOST EQUAL TO}": "~",
    "\N{LESS-THAN OR EQUAL TO}": "<=",
    "\N{GREATER-THAN OR EQUAL TO}": ">=",
    "\N{RIGHTWARDS ARROW}": "->",
    # what stands between words
    "\N{MIDDLE DOT}": "-",
    "\N{BULLET}": "*",
    "\N{EN DASH}": "-",
    "\N{EM DASH}": "-",
    # quotation marks of all the languages a customer writes in
    "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{DOUBLE LOW-9 QUOTATION MARK}": '"',
    "\N{LEFT SINGLE QUOTATION MARK}": "'",
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{SINGLE LOW-9 QUOTATION MARK}": "'",
    # the one letter that has no accent to lose
    "\N{LATIN SMALL LETTER SHARP S}": "ss",
}
_ASCII = "counterpoise_ascii"
_WIDEST = 100  # characters a line: about as many as the eye follows without losing its place


def any_letters(*, as_json: bool) -> None:
    """From now on no letter is too much for the terminal: what it does not know is written plainly.

    As JSON it is escaped, which loses nothing.
    """
    name = "counterpoise_json" if as_json else "counterpoise_plain"
    codecs.register(_ascii)
    codecs.register_error(name, _escaped if as_json else _plainly)
    # both: what a command answers, and what it refuses
    for stream in (sys.stdout, sys.stderr):
        # what stands in for a stream in a test may be of another kind
        if isinstance(stream, TextIOWrapper):
            ascii_only = codecs.lookup(stream.encoding).name == "ascii"
            stream.reconfigure(encoding=_ASCII if ascii_only else None, errors=name)


def _ascii(name: str) -> codecs.CodecInfo | None:
    """ASCII under a name of its own: click takes a stream of plain "ascii" for a mistake.

    It would write UTF-8 to it, which such a terminal shows as rubbish.
    """
    plain = codecs.lookup("ascii")
    return (
        codecs.CodecInfo(
            plain.encode,
            plain.decode,
            plain.streamreader,
            plain.streamwriter,
            plain.incrementalencoder,
            plain.incrementaldecoder,
            name=_ASCII,
        )
        if name == _ASCII
        else None
    )


def _plainly(error: UnicodeError) -> tuple[str, int]:
    # bytes that are no letters are somebody else's trouble
    if not isinstance(error, UnicodeEncodeError):
        raise error
    letters = error.object[error.start : error.end]
    return "".join(_plain(letter, error.encoding) for letter in letters), error.end


def _plain(letter: str, encoding: str) -> str:
    # of a letter with an accent the letter stays
    for text in (_PLAIN.get(letter, ""), unicodedata.normalize("NFKD", letter)):
        kept = text.encode(encoding, "ignore").decode(encoding)
        if kept:
            return kept
    return "?"


def _escaped(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    letters = error.object[error.start : error.end]
    # JSON itself knows how to write any letter by four digits, or two times four
    return json.dumps(letters)[1:-1], error.end


def console() -> Console:
    """The terminal, no wider than can be read at arm's length, 100 characters."""
    # imported late: --help prints without it
    from rich.console import Console

    # rich would colour every number by itself; only what we mark is to stand out
    made = Console(highlight=False)
    made.width = min(made.width, _WIDEST)
    return made


def say(text: str, style: str = "") -> Text:
    """A text as it is: no markup of its own, no control characters but line breaks."""
    from rich.text import Text

    # a story or a note may hold anything, escape sequences of terminals too
    return Text("".join(letter for letter in text if letter.isprintable() or letter == "\n"), style)


def write_file(path: str, content: bytes, *, field: str = "file") -> None:
    """Write a file, over one that is there. Raises InputError that names ``field``."""
    try:
        Path(path).write_bytes(content)
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror}", field=field, remedy="Give another file."
        ) from error
