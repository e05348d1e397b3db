"""A job as a file: how it leaves a store, with its photos and recordings, as JSON.

``{"format": "counterpoise-job", "version": 1, "number", "entries": [{"number", "at", "by", "body":
{"kind", ...}}], "photos": {id: base64}, "recordings": {id: {"name", "data": base64, "top_rpm",
"sound", "sound_start_s"}}}``, the last three only where they are known; ``sound`` is the id of
another recording. The number is that of the store it left; the receiving store gives its own.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field

from counterpoise.workshop.jobs.entries import Entry, Job
from counterpoise.workshop.jobs.entry_json import body_to_json

# a reader refuses versions it does not know rather than guess
FORMAT, VERSION = "counterpoise-job", 1
# a spin takes minutes: ten of them have 8 MB at 400 readings a second
MOST_RECORDING_BYTES = 20 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class RecordingMetadata:
    """What is known of a recording beside its bytes.

    ``top_rpm`` is the programme's top speed, ``sound`` the id of its sound (empty: none),
    ``sound_start_s`` when that began on the recording's clock, in seconds.
    """

    top_rpm: float | None = None
    sound: str = ""
    sound_start_s: float | None = None

    def to_json(self) -> dict[str, float | str]:
        """Return what is known, by name; what is not known is left out."""
        values = {
            "top_rpm": self.top_rpm,
            "sound": self.sound or None,
            "sound_start_s": self.sound_start_s,
        }
        return {name: value for name, value in values.items() if value is not None}


NO_METADATA = RecordingMetadata()


@dataclass(frozen=True, slots=True)
class JobFile:
    """Everything of a job.

    ``photos`` by id; ``recordings`` gives (name, bytes) by id, ``metadata`` what is known of some.
    """

    entries: tuple[Entry, ...]
    photos: Mapping[str, bytes] = field(default_factory=dict)
    recordings: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)
    metadata: Mapping[str, RecordingMetadata] = field(default_factory=dict)


def digest(data: bytes) -> str:
    """Return the id under which these bytes are kept: half of their SHA-256, in hexadecimal."""
    # 128 bits: no two files of a workshop will ever share an id by chance
    return hashlib.sha256(data).hexdigest()[:32]


def job_file_to_json(job: Job, job_file: JobFile) -> dict[str, object]:
    """Return the file of a job as JSON values; ``job`` gives the number it has in this store."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "number": job.number,
        "entries": [
            {
                "number": entry.number,
                "at": entry.at,
                "by": entry.by,
                "body": body_to_json(entry.body),
            }
            for entry in job_file.entries
        ],
        "photos": {key: _base64(data) for key, data in job_file.photos.items()},
        "recordings": {
            key: {
                "name": name,
                "data": _base64(data),
                **job_file.metadata.get(key, NO_METADATA).to_json(),
            }
            for key, (name, data) in job_file.recordings.items()
        },
    }


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode()
