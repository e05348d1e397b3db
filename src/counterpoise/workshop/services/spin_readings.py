"""Kept recordings and their sounds, read; the last few readings are kept."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO

from counterpoise.spin.audio.sound import read_sound
from counterpoise.spin.audio.sound_data import SoundData, sound_data
from counterpoise.spin.files.read import read_recording
from counterpoise.spin.kind import USUAL_KIND, Kind, expected_rpm
from counterpoise.spin.reading import Reading, read_spin

# Page, figure and sound of one recording are asked for in a row, a reading takes seconds and holds
# some megabytes: four are a comparison before and after, and the one looked at before that.
_MOST_KEPT = 4


@lru_cache(maxsize=_MOST_KEPT)
def read_bytes(data: bytes, top_rpm: float | None, kind: Kind = USUAL_KIND) -> Reading:
    """Read the bytes of a CSV or CSV.gz; ``top_rpm`` is the programme's. Raises RecordingError."""
    # gzip is told by its first bytes, so one name serves both
    recording = read_recording(BytesIO(data), "recording.csv", top_rpm=expected_rpm(kind, top_rpm))
    return read_spin(recording, top_rpm=top_rpm, kind=kind)


@lru_cache(maxsize=_MOST_KEPT)
def sound_of(
    data: bytes,
    recording: bytes,
    top_rpm: float | None,
    start_s: float | None,
    kind: Kind = USUAL_KIND,
) -> SoundData:
    """Read the bytes of a WAV beside those of a recording. Raises RecordingError.

    ``start_s`` is when the sound begins on the recording's clock, None where its level has to say.
    """
    # kept from a moment ago: the page has just shown it
    reading = read_bytes(recording, top_rpm, kind)
    return sound_data(read_sound(BytesIO(data), "sound.wav", reading, start_s))
