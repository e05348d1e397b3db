"""A spin recorded by the phone's own browser: the words before it, its pieces, and the recording made of them."""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import ConflictError
from counterpoise.report.views.recording import keep
from counterpoise.workshop.store.uploads import UploadProgress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from counterpoise.workshop.jobs.entries import Job
    from counterpoise.workshop.services.workshop import Workshop

CAUTIONS = (
    "A turning drum keeps on turning. Hands, sleeves and hair stay away until it stands still; never force the door.",
    "Nobody leans on the machine or holds it while it spins. It can jump, and a hand on it spoils the recording.",
    "If it walks or strikes hard, let it: stop the programme, or switch the socket off, without leaning over it.",
    "Hands and floor dry before you touch plug or phone.",
)
STEPS = (
    "Panels on, machine level on its feet, nothing else on top. Load: two wet bath towels, spread by hand.",
    "Tape the phone flat on the middle of the top panel, screen up, nothing soft under it.",
    "Press the button, take your hands off, wait for the count. Then start the highest spin speed.",
    "Step back. When the drum has stopped, wait five seconds, then press Stop.",
)
HEADER = b"time [ms],x [m/s2],y [m/s2],z [m/s2]\n"
Row = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class RecordSheet:
    """What to know before a spin is recorded by phone; ``unfinished`` tells how many pieces have come, by capture.

    ``top_rpm`` is the programme's spin speed as it was last told in this job.
    """

    number: int
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    top_rpm: float | None
    unfinished: dict[str, int]


def record_sheet(workshop: Workshop, job: Job) -> RecordSheet:
    """What to know before a spin of the job's machine is recorded."""
    named = [getattr(entry.body, "recording", "") for entry in job.standing]
    told = [workshop.recordings.metadata(each).top_rpm for each in named if each]
    last = next((rpm for rpm in reversed(told) if rpm is not None), None)
    return RecordSheet(
        job.number, CAUTIONS, STEPS, last, dict(workshop.uploads.unfinished(job.number))
    )


def keep_piece(
    workshop: Workshop, number: int, capture: str, part: tuple[int, Sequence[Row]]
) -> UploadProgress:
    """Keep a piece (its number, rows of time in ms and three accelerations in m/s2); return what has come so far.

    The same piece may come again. Raises NotFoundError, ConflictError, InputError.
    """
    workshop.jobs.get(number)
    lines = "".join(f"{t:.2f},{x:.4f},{y:.4f},{z:.4f}\n" for t, x, y, z in part[1])
    workshop.uploads.keep_part(number, capture, (part[0], lines.encode()))
    return workshop.uploads.arrived(number, capture)


def finish(workshop: Workshop, number: int, capture: str, parts: int, top_rpm: float | None) -> str:
    """Make the recording of all its pieces, as if its file had been sent; return its id. May be asked for again.

    Raises ConflictError where pieces are missing, RecordingError where the whole cannot be read.
    """
    workshop.jobs.get(number)
    come = workshop.uploads.arrived(number, capture)
    if come.recording:
        return come.recording
    missing = sorted(set(range(parts)) - set(come.parts))
    if missing or not parts:
        listed = ", ".join(map(str, missing[:8])) + (" ..." if len(missing) > 8 else "")
        raise ConflictError(
            f"{len(missing)} of {parts} pieces have not come: {listed}. Send them, then finish again."
        )
    if len(come.parts) > parts:
        raise ConflictError(
            f"{len(come.parts)} pieces have come, more than the {parts} it is said to have."
        )
    table = gzip.compress(HEADER + workshop.uploads.lines(capture), mtime=0)
    recording = keep(workshop, number, ("recorded by phone.csv.gz", table), top_rpm)
    workshop.uploads.complete(capture, recording)
    return recording
