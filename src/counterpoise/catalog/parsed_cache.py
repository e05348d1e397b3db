"""Keeps a parsed family beside its file, as Python keeps compiled modules, so that it is parsed once.

Parsing the shipped families takes about 0.8 s of processor time, unpickling them 4 ms (measured).
What is kept stands under the digest of all it was made from (the files, the source of this package,
the interpreter), so a change of any of them makes it void. It lies in ``__pycache__``, which only
those can write who can change the program too.
"""

from __future__ import annotations

import contextlib
import hashlib
import pickle
import sys
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from tempfile import NamedTemporaryFile

_DIGEST_BYTES = 32


def read(file: Path, beside: Sequence[Path]) -> object | None:
    """What was made of a file, or None where nothing is kept, or of other text, or by another program.

    ``beside``: the other files it was made from.
    """
    try:
        kept = _place(file).read_bytes()
        made_from, digest = kept[:_DIGEST_BYTES], kept[_DIGEST_BYTES : 2 * _DIGEST_BYTES]
        pickled = kept[2 * _DIGEST_BYTES :]
        if made_from != _made_from(file, beside) or digest != hashlib.sha256(pickled).digest():
            return None
    except OSError:
        return None
    made: object = pickle.loads(pickled)  # noqa: S301  # its digest is right: we wrote it
    return made


def write(file: Path, beside: Sequence[Path], made: object) -> None:
    """Keep what was made of a file; where the folder cannot be written, nothing is kept and nothing said."""
    place = _place(file)
    pickled = pickle.dumps(made)
    with contextlib.suppress(OSError):
        kept = _made_from(file, beside) + hashlib.sha256(pickled).digest() + pickled
        place.parent.mkdir(exist_ok=True)
        # two processes may write at once: each writes a file of its own and puts it in place whole
        with NamedTemporaryFile(dir=place.parent, delete=False) as scratch:
            scratch.write(kept)
        try:
            Path(scratch.name).replace(place)
        except OSError:
            Path(scratch.name).unlink()
            raise


def _place(file: Path) -> Path:
    return file.parent / "__pycache__" / f"{file.stem}.{sys.implementation.cache_tag}.pickle"


def _made_from(file: Path, beside: Sequence[Path]) -> bytes:
    digest = hashlib.sha256(_program())
    for part in (file, *beside):
        text = part.read_bytes()
        digest.update(len(text).to_bytes(8, "big") + text)
    return digest.digest()


@cache
def _program() -> bytes:
    """Digest of what parses: the interpreter and the source of this package."""
    digest = hashlib.sha256(sys.version.encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.read_bytes())
    return digest.digest()
