"""A file or an open stream as bytes and lines, in bounded memory, whatever is in it."""

import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from counterpoise.errors import RecordingError

Source = Path | BinaryIO

# A spin of 5 minutes at 400 Hz is about 6 MB of text; beyond this lies a gzip bomb or a wrong file.
MAX_TEXT_BYTES = 200_000_000
HEAD_BYTES = 65_536
CHUNK_BYTES = 1_000_000
EXPORT_AGAIN = "Export the recording again as a plain CSV table: time, x, y, z"


@dataclass(frozen=True)
class NamedStream:
    """A seekable stream of bytes and the name that messages call it by."""

    stream: BinaryIO
    name: str


@contextmanager
def opened(source: Source, name: str = "") -> Iterator[NamedStream]:
    """Open a path, or name a seekable stream, which stays open; ``name`` "" takes the path's own.

    Raises RecordingError where the file cannot be opened or read.
    """
    name = name or Path(getattr(source, "name", None) or "recording").name
    try:
        if isinstance(source, Path):
            with source.open("rb") as stream:
                yield NamedStream(stream, name)
        else:
            yield NamedStream(source, name)
    except OSError as error:
        raise RecordingError(
            f"{name} cannot be opened: {error.strerror}", remedy="Check the name"
        ) from error


def byte_chunks(file: NamedStream) -> Iterator[bytes]:
    """Yield the bytes of a file from its start, unpacked where it is gzip.

    Raises RecordingError beyond 200 MB of text.
    """
    total = 0
    raw = file.stream
    raw.seek(0)
    packed = raw.read(2) == b"\x1f\x8b"  # the magic bytes of gzip (RFC 1952), whatever the name
    raw.seek(0)
    for chunk in _unpacked(file) if packed else iter(lambda: raw.read(CHUNK_BYTES), b""):
        total += len(chunk)
        if total > MAX_TEXT_BYTES:
            raise RecordingError(
                f"{file.name} unpacks to more than {MAX_TEXT_BYTES // 1_000_000} MB of text",
                remedy="A spin needs 2 to 5 minutes of recording; cut the file",
            )
        yield chunk


def _unpacked(file: NamedStream) -> Iterator[bytes]:
    """Unpack gzip piece by piece; of a file that was cut off, what arrived is still good."""
    # zlib and not the gzip module: that one fails at the end of a file that was cut off.
    packed, unpack = b"", zlib.decompressobj(wbits=31)
    try:
        while packed := packed or file.stream.read(HEAD_BYTES):
            if unpack.eof:  # gzip files may be laid end to end
                unpack = zlib.decompressobj(wbits=31)
            # A length limit a call, so that a bomb never unpacks at once.
            if piece := unpack.decompress(packed, CHUNK_BYTES):
                yield piece
            packed = unpack.unused_data if unpack.eof else unpack.unconsumed_tail
    except zlib.error as error:
        raise RecordingError(
            f"{file.name} is damaged: it cannot be unpacked", remedy="Send it again"
        ) from error


def line_blocks(file: NamedStream) -> Iterator[list[str]]:
    """Yield lists of whole lines, blank ones included.

    Raises RecordingError for a line of more than 65536 bytes.
    """
    rest = b""
    for chunk in byte_chunks(file):
        block = rest + chunk
        # A carriage return in the last place may be half of a line end of two characters.
        cut = max(block.rfind(b"\n"), block.rfind(b"\r", 0, len(block) - 1)) + 1
        rest = block[cut:]
        if len(rest) > HEAD_BYTES:
            raise RecordingError(
                f"{file.name} has a line of more than {HEAD_BYTES} characters", remedy=EXPORT_AGAIN
            )
        if cut:
            # Latin-1 reads any bytes; only names in the header could suffer from it.
            yield block[:cut].decode("latin-1").splitlines()
    if rest:
        yield rest.decode("latin-1").splitlines()


def head_text(file: NamedStream) -> str:
    """Return the first 64 kB as text. Raises RecordingError, saying why this is no text table."""
    with_mark = next(byte_chunks(file), b"")[:HEAD_BYTES]
    if not with_mark.strip():
        raise RecordingError(f"{file.name} is empty", remedy="Record again")
    for mark, kind in (
        (b"PK\x03\x04", "a ZIP archive"),
        (b"RIFF", "a sound file"),
        (b"%PDF", "a PDF"),
    ):
        if with_mark.startswith(mark):
            raise RecordingError(
                f"{file.name} is {kind}, not a CSV table", remedy="Give the CSV file itself"
            )
    # Zero bytes, or the byte order mark of UTF-16: what spreadsheets call "Unicode text".
    if b"\0" in with_mark or with_mark[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        raise RecordingError(
            f"{file.name} is not a text table in plain or UTF-8 text",
            remedy="Save it as CSV, UTF-8",
        )
    return with_mark.decode("latin-1").removeprefix("\u00ef\u00bb\u00bf")
