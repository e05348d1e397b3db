"""``counterpoise job recording``: a recording of a spin as evidence of a job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from counterpoise.cli.common import hand, writing_command
from counterpoise.cli.job.options import ACKNOWLEDGED, BY, LAST, MINUTES, NOTE, NUMBER, Work
from counterpoise.workshop.jobs.fields import LEAST_RPM, MOST_RPM

if TYPE_CHECKING:
    from counterpoise.report.views.job import Recorded
    from counterpoise.report.views.recording import RecordingAnswer
    from counterpoise.workshop.services.spin_evidence import Role
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    "recording",
    help="Read the recording FILE (CSV or CSV.gz) of a spin and save it in the job.",
)
@NUMBER
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
# the same shake says another thing before a repair, after it, and of a sound machine
@click.option(
    "--role", type=click.Choice(["before", "tied", "after", "sound"]), default="before",
    show_default=True,
    help="Before the repair (tied: with the test load), after it (proof), or when it was healthy.",
)  # fmt: skip
# where the programme's speed is known, a line at it is not taken for a bearing's
@click.option(
    "--top-rpm",
    type=click.FloatRange(LEAST_RPM, MOST_RPM),
    help="The programme's spin speed, where known.",
)
@click.option(
    "--sound",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Its sound: a WAV file.",
)
@click.option("--look", is_flag=True, help="Only say what it says; put nothing down.")
@MINUTES
@NOTE
@ACKNOWLEDGED
@BY
@LAST
@writing_command
def recording(
    workshop: Workshop, number: int, file: Path, role: Role, *, in_words: bool,
    top_rpm: float | None, sound: Path | None, look: bool, acknowledged: bool,
    **work: Unpack[Work],
) -> RecordingAnswer | Recorded:  # fmt: skip
    """What the recording says, or the recorded entry. Raises RecordingError, NotFoundError."""
    from counterpoise.report.views.job import recorded
    from counterpoise.report.views.recording import recording_answer
    from counterpoise.workshop.services.spin_evidence import record_spin, spin_evidence

    # kept even where it is only looked at: the same bytes are stored once, and may be wanted
    kept = workshop.recordings.keep(number, (file.name, file.read_bytes()), top_rpm)
    if sound:
        workshop.recordings.add_sound(number, kept, (sound.name, sound.read_bytes()))
    # read once: what is shown is what is put down
    evidence = spin_evidence(workshop, number, kept, role, top_rpm)
    answer = recording_answer(workshop, evidence)
    if in_words:
        click.echo("\n".join(_lines(answer)))
    if look:
        return answer
    entry = record_spin(
        workshop,
        evidence,
        work["minutes"],
        work["note"],
        hand(work["by"]),
        work["expected_last"],
        acknowledged=acknowledged,
    )
    if in_words:
        click.echo(f"Saved as entry {entry.number} of job {number}.")
    return recorded(workshop, number, entry.number)


def _lines(answer: RecordingAnswer) -> list[str]:
    lines = []
    # whether the repair held is what a recording from after it was made for, so that comes first
    if answer.proof:
        lines.append(answer.proof.sentence)
        lines += [
            f"  {row.name}: {row.before} before, {row.after} after ({row.unit})"
            for row in answer.proof.rows
        ]
    lines.append(answer.sentence)
    lines += [answer.reader] if answer.reader else []
    lines += [f"  {100 * line.chance:3.0f} %  {line.words}" for line in answer.groups]
    if answer.sound:
        lines += [answer.sound.sentence, *(f"  {line}" for line in answer.sound.lines)]
    return lines + [f"Note: {remark}" for remark in answer.remarks]
