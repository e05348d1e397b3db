"""What to know before a run is recorded by the phone's own browser, or by a logging program."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.report.words.machine_words import fastest, run_words, spoken
from counterpoise.spin.kind import is_fast, sees
from counterpoise.workshop.services.machine_kinds import kind_of

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.services.workshop import Workshop

# what a browser reads at most of the phones that there are (from memory)
BROWSER_HZ = 100.0


@dataclass(frozen=True, slots=True)
class RecordSheet:
    """What to know before a run is recorded by phone.

    ``top_rpm`` is the programme's spin speed as it was last told in this job, None where nobody
    told it; ``unfinished`` how many pieces of each upload have come. ``forbidden``: the machine
    must not be run, and what is put down of it must be acknowledged. ``too_slow`` says why the
    browser of a phone cannot follow this machine, empty where it can.
    """

    number: int
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    top_rpm: float | None
    unfinished: dict[str, int]
    forbidden: bool = False
    too_slow: str = ""


def recording_cautions(family: Family) -> tuple[str, ...]:
    """What stands before the steps, on page, terminal and in JSON: it has broken arms."""
    return tuple(
        spoken(text, family)
        for text in (
            (
                "A turning drum keeps on turning. Hands, sleeves and hair stay away until it stands"
                " still; never force the door."
            ),
            (
                "Nobody leans on the machine or holds it while it"
                f" {'spins' if family.body.spins else 'runs'}. It can jump, and a hand on it spoils"
                " the recording."
            ),
            (
                "If it walks or strikes hard, let it: stop the programme, or switch the socket off,"
                " without leaning over it."
            ),
            "Hands and floor dry before you touch plug or phone.",
        )
    )


def _lay_out(family: Family) -> tuple[str, ...]:
    feet = family.body.feet.word
    load = "two wet bath towels, spread by hand" if family.body.spins else "as it is usually loaded"
    # the lid itself rattles, and is opened
    place = (
        "middle of the top panel" if family.body.opens == "door" else "rim of the top, off the lid"
    )
    return (
        f"Panels on, machine level on its {feet}, nothing else on top. Load: {load}.",
        f"Tape the phone flat on the {place}, screen up, nothing soft under it.",
    )


def phone_steps(family: Family) -> tuple[str, ...]:
    """How a run is recorded by the phone's browser."""
    return (
        *_lay_out(family),
        (
            "Press the button, take your hands off, wait for the count. Then start"
            f" {fastest(family)}."
        ),
        spoken("Step back. When the drum has stopped, wait five seconds, then press Stop.", family),
    )


def file_steps(family: Family) -> tuple[str, ...]:
    """The same, recorded by a logging program whose file is sent afterwards."""
    return (
        *_lay_out(family),
        f"Start recording, take your hands off, count to five. Then start {fastest(family)}.",
        spoken(
            "Step back. When the drum has stopped, wait five seconds, then stop recording.", family
        ),
    )


def too_slow(family: Family) -> str:
    """Why a phone's browser cannot follow this kind of machine, empty where it can."""
    top = family.body.top_rpm
    if top is None or not is_fast(kind_of(family), None) or sees(BROWSER_HZ, top):
        return ""
    return (
        f"This kind of machine turns at up to {top:.0f} rpm, {top / 60:.0f} turns a second. A"
        " phone's browser reads its sensor 50 to 100 times a second and cannot see that: record"
        f" with a logging program at 200 or more, and send its file. The {run_words(family)}"
        " recorded here tells knocks and how it shakes at lower speeds only."
    )


def record_sheet(workshop: Workshop, view: JobView) -> RecordSheet:
    """What to know before a run of the job's machine is recorded, with the top speed in rpm."""
    job, family = view.job, view.family
    # findings, proofs and notes can each carry a recording
    recordings = [getattr(entry.body, "recording", "") for entry in job.standing]
    speeds = [workshop.recordings.metadata(each).top_rpm for each in recordings if each]
    # the same machine spins the same programme: what was told last is offered again
    last_rpm = next((rpm for rpm in reversed(speeds) if rpm is not None), None)
    unfinished = dict(workshop.uploads.unfinished(job.number))
    # what forbids the spin stands before what makes it safe
    forbidden = view.not_to_run
    return RecordSheet(
        job.number,
        (*forbidden, *recording_cautions(family)),
        phone_steps(family),
        last_rpm,
        unfinished,
        bool(forbidden),
        too_slow(family),
    )
