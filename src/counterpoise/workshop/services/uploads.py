"""Recordings that a phone's browser sends piece by piece while the machine spins."""

from __future__ import annotations

import gzip
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from counterpoise.errors import ConflictError

if TYPE_CHECKING:
    from counterpoise.workshop.services.jobs import Jobs
    from counterpoise.workshop.services.recordings import Recordings
    from counterpoise.workshop.store.store import Store
    from counterpoise.workshop.store.uploads import UploadProgress

HEADER = b"time [ms],x [m/s2],y [m/s2],z [m/s2]\n"
FILE_NAME = "recorded by phone.csv.gz"
# a phone that lost its connection may miss hundreds
_MOST_LISTED = 8
# time in ms since the recording began; three accelerations with gravity, in the phone's axes, m/s2
Row = tuple[float, float, float, float]


class Uploads:
    """Uploads by the id that the phone gave each; pieces come twice, late, in any order."""

    def __init__(self, store: Store, jobs: Jobs, recordings: Recordings) -> None:
        self._pieces = store.uploads
        self._jobs = jobs
        self._recordings = recordings

    def arrived(self, job: int, upload: str) -> UploadProgress:
        """Which pieces have come, and the id of the recording once they are whole.

        Raises NotFoundError where there is no such job.
        """
        self._jobs.get(job)
        return self._pieces.arrived(job, upload)

    def unfinished(self, job: int) -> Mapping[str, int]:
        """How many pieces of each unfinished upload of a job have come; empty where none is."""
        return self._pieces.unfinished(job)

    def keep_rows(self, job: int, upload: str, piece: int, rows: Sequence[Row]) -> UploadProgress:
        """Keep a piece by its number and return what has come so far; the same one may come again.

        Raises NotFoundError, ConflictError, InputError.
        """
        self._jobs.get(job)
        # two and four digits are finer than any phone's clock and sensor (from memory)
        lines = "".join(f"{t:.2f},{x:.4f},{y:.4f},{z:.4f}\n" for t, x, y, z in rows)
        # numbered by the phone, so that a piece sent again replaces nothing and adds nothing
        self._pieces.keep_part(job, upload, (piece, lines.encode()))
        return self._pieces.arrived(job, upload)

    def finish(self, job: int, upload: str, pieces: int, top_rpm: float | None) -> str:
        """Make the recording of all its pieces, as if its file had been sent; returns its id.

        May be asked for again. Raises NotFoundError, ConflictError where pieces are missing,
        RecordingError where the whole cannot be read.
        """
        progress = self.arrived(job, upload)
        # asked again after a lost answer: the same id, and nothing is done twice
        if progress.recording:
            return progress.recording
        _check_whole(progress.parts, pieces)
        # without a time stamp in the archive, the same rows give the same bytes and the same id
        table = gzip.compress(HEADER + self._pieces.lines(upload), mtime=0)
        recording = self._recordings.keep(job, (FILE_NAME, table), top_rpm)
        # last: the pieces are let go only once the whole is kept
        self._pieces.complete(upload, recording)
        return recording


def _check_whole(arrived: Sequence[int], pieces: int) -> None:
    """Raise ConflictError where pieces are missing, or more came than were sent."""
    # the phone counts from 0
    missing = sorted(set(range(pieces)) - set(arrived))
    # an upload of no pieces is never whole
    if missing or not pieces:
        listed = ", ".join(map(str, missing[:_MOST_LISTED]))
        more = " ..." if len(missing) > _MOST_LISTED else ""
        raise ConflictError(
            f"{len(missing)} of {pieces} pieces have not come: {listed}{more}."
            " Send them, then finish again."
        )
    # a reload of the page began to count anew: two spins must not become one
    if len(arrived) > pieces:
        raise ConflictError(
            f"{len(arrived)} pieces have come, more than the {pieces} it is said to have."
        )
