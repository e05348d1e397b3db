"""Sound from a WAV file, in bounded memory: PCM of 8 to 32 bits or float, one channel or several.

The layout is that of RIFF/WAVE (1991, with the later WAVE_FORMAT_EXTENSIBLE): chunks of name,
length, data.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from counterpoise.errors import RecordingError
from counterpoise.spin.files.byte_stream import NamedStream
from counterpoise.spin.recording import Floats

BLOCK_FRAMES = 65_536
# Chunks before the sound: a file of thousands of empty ones must not keep us busy.
MOST_CHUNKS = 200
MOST_CHANNELS = 8
# Below 4 kHz the ringing of a bearing (1 to 8 kHz) is not in the sound at all.
LEAST_RATE_HZ, MOST_RATE_HZ = 4000, 192_000
LEAST_S, MOST_S = 5.0, 2000.0
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
# What programs that write as they go leave for a length when they are cut off.
_UNKNOWN_LENGTHS = (0, 0xFFFFFFFF)
SAVE_AGAIN = "Save the sound as a plain WAV: PCM, 16 bits, 44100 or 48000 samples a second"


@dataclass(frozen=True)
class WaveFormat:
    """How samples lie in a file: from byte ``start``, ``frames`` of channels times width bytes."""

    rate_hz: int
    channels: int
    width: int
    is_float: bool
    start: int
    frames: int

    @property
    def duration_s(self) -> float:
        """Length of the sound in seconds."""
        return self.frames / self.rate_hz


@dataclass(frozen=True)
class _SampleFormat:
    """What the chunk ``fmt`` says of the samples; ``width`` in bytes."""

    rate_hz: int
    channels: int
    width: int
    is_float: bool


def wave_format(file: NamedStream) -> WaveFormat:
    """Read the head of a WAV file. Raises RecordingError for what cannot be read."""
    # What is really there, for the length in the head may be wrong.
    size = file.stream.seek(0, 2)
    file.stream.seek(0)
    return _checked(file.name, _head(file, size))


def _head(file: NamedStream, size: int) -> WaveFormat:
    stream = file.stream
    first = stream.read(12)
    if first[:4] in {b"RIFX", b"RF64"} or first[:4] != b"RIFF" or first[8:] != b"WAVE":
        kind = "is empty" if not first else "is no WAV file of the usual kind"
        raise RecordingError(f"{file.name} {kind}", field="sound", remedy=SAVE_AGAIN)
    samples: _SampleFormat | None = None
    for _ in range(MOST_CHUNKS):
        head = stream.read(8)
        if len(head) < 8:
            break
        chunk, length = head[:4], struct.unpack("<I", head[4:])[0]
        if chunk == b"data":
            return _data(file.name, samples, stream.tell(), (length, size))
        if chunk == b"fmt ":
            samples = _sample_format(file.name, stream.read(min(length, 64)))
            length -= min(length, 64)
        # Chunks of odd length carry one more byte that is not counted.
        stream.seek(length + length % 2, 1)
    raise RecordingError(f"{file.name} holds no sound", field="sound", remedy=SAVE_AGAIN)


def _sample_format(name: str, chunk: bytes) -> _SampleFormat:
    if len(chunk) < 16:
        raise RecordingError(
            f"{name} is damaged: its head is too short", field="sound", remedy=SAVE_AGAIN
        )
    tag, channels, rate_hz, _, _, bits = struct.unpack("<HHIIHH", chunk[:16])
    # The extensible kind holds the true one in the first two bytes of a GUID.
    if tag == _EXTENSIBLE and len(chunk) >= 26:
        tag = struct.unpack("<H", chunk[24:26])[0]
    if tag not in {_PCM, _FLOAT}:
        raise RecordingError(
            f"{name} holds packed sound (kind {tag})", field="sound", remedy=SAVE_AGAIN
        )
    if bits not in ({32, 64} if tag == _FLOAT else {8, 16, 24, 32}):
        raise RecordingError(f"{name} has samples of {bits} bits", field="sound", remedy=SAVE_AGAIN)
    return _SampleFormat(rate_hz, channels, bits // 8, tag == _FLOAT)


def _data(
    name: str, samples: _SampleFormat | None, start: int, lengths: tuple[int, int]
) -> WaveFormat:
    """What the file really holds counts, not what it says of itself."""
    if samples is None:
        raise RecordingError(
            f"{name} does not say how its sound is stored", field="sound", remedy=SAVE_AGAIN
        )
    said, size = lengths
    there = size - start
    length = there if said in _UNKNOWN_LENGTHS else min(said, there)
    # No channels is refused later, in words; here it must only not divide.
    frames = length // (samples.width * samples.channels) if samples.channels else 0
    return WaveFormat(
        samples.rate_hz, samples.channels, samples.width, samples.is_float, start, frames
    )


def _checked(name: str, form: WaveFormat) -> WaveFormat:
    if not 1 <= form.channels <= MOST_CHANNELS:
        raise RecordingError(
            f"{name} has {form.channels} channels", field="sound", remedy=SAVE_AGAIN
        )
    if not LEAST_RATE_HZ <= form.rate_hz <= MOST_RATE_HZ:
        raise RecordingError(
            f"{name} has {form.rate_hz} samples a second; "
            f"{LEAST_RATE_HZ} to {MOST_RATE_HZ} can be read",
            field="sound",
            remedy=SAVE_AGAIN,
        )
    if not LEAST_S <= form.duration_s <= MOST_S:
        raise RecordingError(
            f"{name} lasts {form.duration_s:.3g} s; {LEAST_S:.0f} s to 33 minutes can be read",
            field="sound",
            remedy="Record the whole spin, from before it starts until the drum has stopped",
        )
    return form


def wave_blocks(file: NamedStream, form: WaveFormat) -> Iterator[Floats]:
    """Yield arrays (up to 65536,) of the sound, channels averaged, full scale 1.

    What is no number reads as silence.
    """
    left = form.frames
    file.stream.seek(form.start)
    while left > 0:
        raw = file.stream.read(min(left, BLOCK_FRAMES) * form.width * form.channels)
        # A file cut off in the middle of a frame: the part of a frame is dropped.
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
        # Far beyond full scale lies damage; the limit keeps its squares finite.
        sane: Floats = np.clip(np.nan_to_num(loose, nan=0.0, posinf=0.0, neginf=0.0), -8.0, 8.0)
        return sane
    if form.width == 1:  # the only unsigned kind
        return (np.frombuffer(raw, np.uint8).astype(np.float64) - 128.0) / 128.0
    if form.width == 3:
        bytes_of = np.frombuffer(raw, np.uint8).reshape(-1, 3).astype(np.int32)
        # The sign is in the highest byte, which numpy has no 24-bit type for.
        high = bytes_of[:, 2] - 256 * (bytes_of[:, 2] > 127)
        wide: Floats = (bytes_of[:, 0] + 256 * bytes_of[:, 1] + 65536 * high) / 2.0**23
        return wide
    signed: Floats = np.frombuffer(raw, f"<i{form.width}").astype(np.float64) / 2.0 ** (
        8 * form.width - 1
    )
    return signed
