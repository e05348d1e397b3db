"""Recordings of a spin: kept where they can be read, with the sound beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from counterpoise.errors import NotFoundError
from counterpoise.spin.kind import USUAL_KIND, Kind
from counterpoise.workshop.jobs.entry_json import recording_ids
from counterpoise.workshop.jobs.job_file import NO_METADATA, RecordingMetadata
from counterpoise.workshop.services.machine_kinds import kind_of

if TYPE_CHECKING:
    from counterpoise.spin.reading import Reading
    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.services.families import Families
    from counterpoise.workshop.services.jobs import Jobs
    from counterpoise.workshop.store.store import Store

NamedFile = tuple[str, bytes]  # the name of a file as it came, and its bytes


class Recordings:
    """The recordings of a workshop, by id (a digest of their bytes)."""

    def __init__(self, store: Store, jobs: Jobs, families: Families) -> None:
        self._kept = store.recordings
        self._came = store.uploads
        self._jobs = jobs
        self._families = families

    def get(self, recording: str) -> NamedFile:
        """The file of a recording, as it came. Raises NotFoundError."""
        return self._kept.get(recording)

    def metadata(self, recording: str) -> RecordingMetadata:
        """What was told of a recording: the programme's top speed in rpm, the sound beside it."""
        return self._kept.metadata(recording)

    def reading(
        self, recording: str, top_rpm: float | None = None, kind: Kind | None = None
    ) -> Reading:
        """A recording read, with ``top_rpm`` or else the top speed told with it.

        ``kind``: of what kind of machine it is, None for the usual one.

        Raises NotFoundError, RecordingError.
        """
        # numba and the models of the spin take a moment to load; a list of jobs needs neither
        from counterpoise.workshop.services.spin_readings import read_bytes

        # 0 rpm is no speed: it counts as not given
        told = top_rpm or self.metadata(recording).top_rpm
        return read_bytes(self.get(recording)[1], told, kind or USUAL_KIND)

    def kind(self, job: Job) -> Kind:
        """Of what kind of machine a job's recordings are. Raises InputError."""
        return kind_of(self._families.named(job.intake.family))

    def add(self, name: str, data: bytes, metadata: RecordingMetadata = NO_METADATA) -> str:
        """Keep bytes as they are, unread; returns their id. Raises InputError for their size."""
        return self._kept.add(name, data, metadata)

    def keep(self, job: int, file: NamedFile, top_rpm: float | None) -> str:
        """Keep a recording that can be read, with its told top speed in rpm; returns its id.

        Raises NotFoundError, RecordingError.
        """
        from counterpoise.workshop.services.spin_readings import read_bytes

        kind = self.kind(self._jobs.get(job))
        # read before it is kept: the phone is still at the machine, so the spin can be repeated
        read_bytes(file[1], top_rpm, kind)
        # the last part only: browsers of old send whole paths
        name = Path(file[0]).name or "recording.csv"
        kept = self.add(name, file[1], RecordingMetadata(top_rpm=top_rpm))
        self._came.came(job, kept)
        return kept

    def check_owned(self, job: Job, recording: str) -> None:
        """Raise NotFoundError where a recording neither came to a job nor stands in its entries.

        Another job's is not read by changing a number.
        """
        # most are in the entries, which have been read
        named = any(recording in recording_ids(entry.body) for entry in job.entries)
        if not named and not self._came.came_to(job.number, recording):
            raise NotFoundError(
                f"Job {job.number} has no recording {recording}", remedy="Send its file again."
            )

    def add_sound(
        self, job: int, recording: str, file: NamedFile, start_s: float | None = None
    ) -> None:
        """Keep a WAV that can be read as the sound of a recording.

        ``start_s`` is when it begins on the recording's clock, in seconds. Raises NotFoundError,
        RecordingError.
        """
        from counterpoise.workshop.services.spin_readings import sound_of

        of = self._jobs.get(job)
        self.check_owned(of, recording)
        kind = self.kind(of)
        name, data = self.get(recording)
        # read before it is kept: a sound that does not belong to this spin is refused
        sound_of(file[1], data, self.metadata(recording).top_rpm, start_s, kind)
        # sounds are recordings like others: kept once, found by their digest
        sound = self.add(Path(file[0]).name or "sound.wav", file[1])
        # the same bytes again: the store keeps one copy and adds what is newly told of it
        self.add(name, data, RecordingMetadata(sound=sound, sound_start_s=start_s))
