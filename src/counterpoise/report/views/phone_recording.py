"""What to know before a spin is recorded by the phone's own browser."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.services.workshop import Workshop

# stand before the steps, on page, terminal and in JSON: a turning drum has broken arms
CAUTIONS = (
    (
        "A turning drum keeps on turning. Hands, sleeves and hair stay away until it stands still;"
        " never force the door."
    ),
    (
        "Nobody leans on the machine or holds it while it spins. It can jump, and a hand on it"
        " spoils the recording."
    ),
    (
        "If it walks or strikes hard, let it: stop the programme, or switch the socket off, without"
        " leaning over it."
    ),
    "Hands and floor dry before you touch plug or phone.",
)
_LAY_OUT = (
    (
        "Panels on, machine level on its feet, nothing else on top. Load: two wet bath towels,"
        " spread by hand."
    ),
    "Tape the phone flat on the middle of the top panel, screen up, nothing soft under it.",
)
STEPS = (
    *_LAY_OUT,
    "Press the button, take your hands off, wait for the count. Then start the highest spin speed.",
    "Step back. When the drum has stopped, wait five seconds, then press Stop.",
)
# the same spin, recorded by a logging program, whose file is sent afterwards
FILE_STEPS = (
    *_LAY_OUT,
    "Start recording, take your hands off, count to five. Then start the highest spin speed.",
    "Step back. When the drum has stopped, wait five seconds, then stop recording.",
)


@dataclass(frozen=True, slots=True)
class RecordSheet:
    """What to know before a spin is recorded by phone.

    ``top_rpm`` is the programme's spin speed as it was last told in this job, None where nobody
    told it; ``unfinished`` how many pieces of each upload have come. ``forbidden``: the machine
    must not be run, and what is put down of it must be acknowledged.
    """

    number: int
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    top_rpm: float | None
    unfinished: dict[str, int]
    forbidden: bool = False


def record_sheet(workshop: Workshop, view: JobView) -> RecordSheet:
    """What to know before a spin of the job's machine is recorded, with the top speed in rpm."""
    job = view.job
    # findings, proofs and notes can each carry a recording
    recordings = [getattr(entry.body, "recording", "") for entry in job.standing]
    speeds = [workshop.recordings.metadata(each).top_rpm for each in recordings if each]
    # the same machine spins the same programme: what was told last is offered again
    last_rpm = next((rpm for rpm in reversed(speeds) if rpm is not None), None)
    unfinished = dict(workshop.uploads.unfinished(job.number))
    # what forbids the spin stands before what makes it safe
    forbidden = view.not_to_run
    return RecordSheet(
        job.number, (*forbidden, *CAUTIONS), STEPS, last_rpm, unfinished, bool(forbidden)
    )
