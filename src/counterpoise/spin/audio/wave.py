"""Sound from a WAV file, in bounded memory: PCM of 8, 16, 24 or 32 bits, or float of 32 or 64; one channel or several.

The layout is that of RIFF/WAVE (IBM and Microsoft, 1991, with WAVE_FORMAT_EXTENSIBLE): chunks of name, length, data.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.recording import Floats

BLOCK_FRAMES = 65_536
MOST_CHUNKS = 200
MOST_CHANNELS = 8
LEAST_RATE_HZ, MOST_RATE_HZ = 4000, 192_000
LEAST_S, MOST_S = 5.0, 2000.0
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_UNTOLD = (0, 0xFFFFFFFF)  # programs that were cut off leave the length so
SAVE_AGAIN = "Save the sound as a plain WAV: PCM, 16 bits, 44100 or 48000 samples a second"


@dataclass(frozen=True)
class WaveFormat:
    """How the samples lie in the file: from byte ``start``, ``frames`` of ``channels`` samples of ``width`` bytes."""

    rate_hz: int
    channels: int
    width: int
    is_float: bool
    start: int
    frames: int

    @property
    def duration_s(self) -> float:
        """Length of the sound."""
        return self.frames / self.rate_hz


def wave_format(path: Path) -> WaveFormat:
    """Read the head of a WAV file. Raises RecordingError, in plain words, for anything that cannot be read."""
    try:
        with path.open("rb") as stream:
            size = stream.seek(0, 2)
            stream.seek(0)
            return _checked(path, _head(path, stream, size))
    except OSError as error:
        raise RecordingError(
            f"{path.name} cannot be opened: {error.strerror}", remedy="Check the name"
        ) from error


def _head(path: Path, stream: BinaryIO, size: int) -> WaveFormat:
    first = stream.read(12)
    if first[:4] in {b"RIFX", b"RF64"} or first[:4] != b"RIFF" or first[8:] != b"WAVE":
        kind = "is empty" if not first else "is no WAV file of the usual kind"
        raise RecordingError(f"{path.name} {kind}", field="sound", remedy=SAVE_AGAIN)
    told: tuple[int, int, int, bool] | None = None
    for _ in range(MOST_CHUNKS):
        head = stream.read(8)
        if len(head) < 8:
            break
        name, length = head[:4], struct.unpack("<I", head[4:])[0]
        if name == b"data":
            return _data(path, told, stream.tell(), (length, size))
        if name == b"fmt ":
            told = _told(path, stream.read(min(length, 64)))
            length -= min(length, 64)
        stream.seek(length + length % 2, 1)
    raise RecordingError(f"{path.name} holds no sound", field="sound", remedy=SAVE_AGAIN)


def _told(path: Path, data: bytes) -> tuple[int, int, int, bool]:
    if len(data) < 16:
        raise RecordingError(
            f"{path.name} is damaged: its head is too short", field="sound", remedy=SAVE_AGAIN
        )
    tag, channels, rate_hz, _, _, bits = struct.unpack("<HHIIHH", data[:16])
    if tag == _EXTENSIBLE and len(data) >= 26:
        tag = struct.unpack("<H", data[24:26])[0]
    if tag not in {_PCM, _FLOAT}:
        raise RecordingError(
            f"{path.name} holds packed sound (kind {tag})", field="sound", remedy=SAVE_AGAIN
        )
    if bits not in ({32, 64} if tag == _FLOAT else {8, 16, 24, 32}):
        raise RecordingError(
            f"{path.name} has samples of {bits} bits", field="sound", remedy=SAVE_AGAIN
        )
    return rate_hz, channels, bits // 8, tag == _FLOAT


def _data(
    path: Path, told: tuple[int, int, int, bool] | None, start: int, lengths: tuple[int, int]
) -> WaveFormat:
    """What the file really holds counts, not what it says of itself."""
    if told is None:
        raise RecordingError(
            f"{path.name} does not say how its sound is stored", field="sound", remedy=SAVE_AGAIN
        )
    rate_hz, channels, width, is_float = told
    said, size = lengths
    there = size - start
    length = there if said in _UNTOLD else min(said, there)
    frames = length // (width * channels) if channels else 0
    return WaveFormat(rate_hz, channels, width, is_float, start, frames)


def _checked(path: Path, form: WaveFormat) -> WaveFormat:
    if not 1 <= form.channels <= MOST_CHANNELS:
        raise RecordingError(
            f"{path.name} has {form.channels} channels", field="sound", remedy=SAVE_AGAIN
        )
    if not LEAST_RATE_HZ <= form.rate_hz <= MOST_RATE_HZ:
        raise RecordingError(
            f"{path.name} has {form.rate_hz} samples a second; {LEAST_RATE_HZ} to {MOST_RATE_HZ} can be read",
            field="sound",
            remedy=SAVE_AGAIN,
        )
    if not LEAST_S <= form.duration_s <= MOST_S:
        raise RecordingError(
            f"{path.name} lasts {form.duration_s:.3g} s; {LEAST_S:.0f} s to 33 minutes can be read",
            field="sound",
            remedy="Record the whole spin, from before it starts until the drum has stopped",
        )
    return form


def blocks(path: Path, form: WaveFormat) -> Iterator[Floats]:
    """Yield the sound piece by piece, channels averaged, full scale 1; what is no number reads as silence."""
    left = form.frames
    with path.open("rb") as stream:
        stream.seek(form.start)
        while left > 0:
            raw = stream.read(min(left, BLOCK_FRAMES) * form.width * form.channels)
            whole = len(raw) // (form.width * form.channels)
            if not whole:
                return
            left -= whole
            samples = _samples(raw[: whole * form.width * form.channels], form)
            mono: Floats = samples.reshape(whole, form.channels).mean(axis=1)
            yield mono


def _samples(raw: bytes, form: WaveFormat) -> Floats:
    if form.is_float:
        with np.errstate(over="ignore", invalid="ignore"):
            loose = np.frombuffer(raw, "<f4" if form.width == 4 else "<f8").astype(np.float64)
        sane: Floats = np.clip(np.nan_to_num(loose, nan=0.0, posinf=0.0, neginf=0.0), -8.0, 8.0)
        return sane
    if form.width == 1:
        return (np.frombuffer(raw, np.uint8).astype(np.float64) - 128.0) / 128.0
    if form.width == 3:
        bytes_of = np.frombuffer(raw, np.uint8).reshape(-1, 3).astype(np.int32)
        high = bytes_of[:, 2] - 256 * (bytes_of[:, 2] > 127)
        wide: Floats = (bytes_of[:, 0] + 256 * bytes_of[:, 1] + 65536 * high) / 2.0**23
        return wide
    signed: Floats = np.frombuffer(raw, f"<i{form.width}").astype(np.float64) / 2.0 ** (
        8 * form.width - 1
    )
    return signed
