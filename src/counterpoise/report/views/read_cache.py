"""Kept recordings, read; the last few are remembered, as page, figure and sound ask for the same."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from counterpoise.spin.audio.sound import read_sound, sound_data
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import Reading, read_spin


@lru_cache(maxsize=4)
def read_bytes(data: bytes, top_rpm: float | None) -> Reading:
    """Read the bytes of a CSV or CSV.gz. Raises RecordingError."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "recording.csv"
        path.write_bytes(data)
        return read_spin(read_recording(path, top_rpm=top_rpm), top_rpm=top_rpm)


@lru_cache(maxsize=4)
def sound_of(
    data: bytes, recording: bytes, top_rpm: float | None, start_s: float | None
) -> dict[str, Any]:
    """Read the bytes of a WAV beside those of a recording. Raises RecordingError."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sound.wav"
        path.write_bytes(data)
        return sound_data(read_sound(path, read_bytes(recording, top_rpm), start_s))
