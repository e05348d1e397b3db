"""Kept recordings, read; the last few are remembered, as page, figure and sound ask for the same."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO

from counterpoise.spin.audio.sound import read_sound
from counterpoise.spin.audio.sound_data import SoundData, sound_data
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.reading import Reading, read_spin


@lru_cache(maxsize=4)
def read_bytes(data: bytes, top_rpm: float | None) -> Reading:
    """Read the bytes of a CSV or CSV.gz. Raises RecordingError."""
    recording = read_recording(BytesIO(data), "recording.csv", top_rpm=top_rpm)
    return read_spin(recording, top_rpm=top_rpm)


@lru_cache(maxsize=4)
def sound_of(
    data: bytes, recording: bytes, top_rpm: float | None, start_s: float | None
) -> SoundData:
    """Read the bytes of a WAV beside those of a recording. Raises RecordingError."""
    reading = read_bytes(recording, top_rpm)
    return sound_data(read_sound(BytesIO(data), "sound.wav", reading, start_s))
