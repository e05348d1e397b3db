"""What the commands say in the terminal, and the files that they write."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

_WIDEST = 100  # characters a line: about as many as the eye follows without losing its place


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
