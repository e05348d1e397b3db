"""Keeps a parsed family, as Python keeps compiled modules: parsed once.

Parsing the shipped families takes about 0.8 s of processor time, unpickling them 4 ms (measured).
What is kept stands under the digest of all it was made from (the files, the source of this package,
the interpreter), so a change of any of them makes it void. All of it, also of a workshop's own
families, lies in the program's ``__pycache__``, which only those can write who can change the
program too: what is unpickled can do anything.
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

from counterpoise.catalog.places import DATA

# of SHA-256
_DIGEST_BYTES = 32
# a workshop has few families of its own; what is older is of files that are gone
_MOST_OWN = 24


def read(files: Sequence[Path], beside: Sequence[Path]) -> object | None:
    """What was made of files; None where nothing is kept that is still true of them.

    It is void where a text or the program has changed since. ``files``: those of the family, its
    own first; ``beside``: the other files it was made from.
    """
    try:
        kept = _place(files).read_bytes()
        # two digests, then the pickle: what it was made from, and itself
        made_from, digest = kept[:_DIGEST_BYTES], kept[_DIGEST_BYTES : 2 * _DIGEST_BYTES]
        pickled = kept[2 * _DIGEST_BYTES :]
        # checked before unpickling: a torn or foreign file must never be run as a pickle
        if made_from != _made_from((*files, *beside)) or digest != hashlib.sha256(pickled).digest():
            return None
    # no file, no right to read it, or a source that is gone: all mean that it must be parsed
    except OSError:
        return None
    made: object = pickle.loads(pickled)  # noqa: S301  # its digest is right: we wrote it
    return made


def write(files: Sequence[Path], beside: Sequence[Path], made: object) -> None:
    """Keep what was made of files.

    Where the folder cannot be written, nothing is kept and nothing said: Raises no OSError.
    """
    place = _place(files)
    pickled = pickle.dumps(made)
    with contextlib.suppress(OSError):
        kept = _made_from((*files, *beside)) + hashlib.sha256(pickled).digest() + pickled
        place.parent.mkdir(exist_ok=True)
        # two processes may write at once: each writes a file of its own and puts it in place whole
        with NamedTemporaryFile(dir=place.parent, delete=False) as scratch:
            scratch.write(kept)
        try:
            Path(scratch.name).replace(place)
        except OSError:
            # on some systems a file that is being read cannot be replaced: leave no litter
            Path(scratch.name).unlink()
            raise
        _drop_old(place.parent)


def digest_of(files: Sequence[Path]) -> str:
    """The digest of the texts of files, in hexadecimal. Raises OSError."""
    return _texts(hashlib.sha256(), files).hexdigest()


def _place(files: Sequence[Path]) -> Path:
    # one file for each interpreter, as for compiled modules: pickles differ between them
    ending = f"{sys.implementation.cache_tag}.pickle"
    if len(files) == 1 and files[0].parent == DATA:
        return DATA / "__pycache__" / f"{files[0].stem}.{ending}"
    # by the place of the files: a changed text takes the place of the one before
    names = hashlib.sha256("\0".join(str(file) for file in files).encode()).hexdigest()[:16]
    return DATA / "__pycache__" / f"own-{names}.{ending}"


def _drop_old(folder: Path) -> None:
    own = sorted(folder.glob("own-*.pickle"), key=lambda path: path.stat().st_mtime_ns)
    for path in own[:-_MOST_OWN]:
        path.unlink(missing_ok=True)


def _made_from(files: Sequence[Path]) -> bytes:
    return _texts(hashlib.sha256(_program()), files).digest()


def _texts(digest: hashlib._Hash, files: Sequence[Path]) -> hashlib._Hash:
    for file in files:
        text = file.read_bytes()
        # the length parts the texts: moving a line from one to the other changes the digest
        digest.update(len(text).to_bytes(8, "big") + text)
    return digest


@cache
def _program() -> bytes:
    """Digest of what parses: the interpreter and the source of this package."""
    digest = hashlib.sha256(sys.version.encode())
    # all of the package: a change of a record's fields must void what was pickled
    for source in sorted(Path(__file__).parent.rglob("*.py")):
        digest.update(source.read_bytes())
    return digest.digest()
