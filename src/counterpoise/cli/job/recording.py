"""``counterpoise job recording``: a recording of a spin as evidence of a job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from counterpoise.cli.common import hand, workshop_command
from counterpoise.cli.job.options import BY, LAST, MINUTES, NOTE, NUMBER

if TYPE_CHECKING:
    from counterpoise.report.views.recording import RecordingAnswer
    from counterpoise.workshop.services.workshop import Workshop


@click.command("recording")
@NUMBER
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--role", type=click.Choice(["before", "after", "sound"]), default="before", show_default=True,
    help="Before the repair, after it (proof), or from when the machine was sound.",
)  # fmt: skip
@click.option(
    "--top-rpm", type=click.FloatRange(200, 2500), help="The programme's spin speed, where known."
)
@click.option(
    "--sound",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Its sound: a WAV file.",
)
@click.option("--look", is_flag=True, help="Only say what it says; put nothing down.")
@MINUTES
@NOTE
@BY
@LAST
@workshop_command
def recording(
    workshop: Workshop,
    number: int,
    file: Path,
    role: Literal["before", "after", "sound"],
    *,
    tell: bool,
    **more: Any,
) -> Any:
    """Read the recording FILE (CSV or CSV.gz) of a spin and put it down in the job."""
    from counterpoise.report.views.job import recorded
    from counterpoise.report.views.recording import recording_answer
    from counterpoise.workshop.services.spin_evidence import record_spin, spin_evidence

    kept = workshop.recordings.keep(number, (file.name, file.read_bytes()), more["top_rpm"])
    if more["sound"]:
        workshop.recordings.add_sound(
            number, kept, (more["sound"].name, more["sound"].read_bytes())
        )
    evidence = spin_evidence(workshop, number, kept, role, more["top_rpm"])
    told = recording_answer(workshop, evidence)
    if tell:
        click.echo("\n".join(_lines(told)))
    if more["look"]:
        return told
    down = record_spin(
        workshop, evidence, more["minutes"], more["note"], hand(more["by"]), more["expected_last"]
    )
    if tell:
        click.echo(f"Put down as entry {down.number} of job {number}.")
    return recorded(workshop, number, down.number)


def _lines(told: RecordingAnswer) -> list[str]:
    out = [told.proof.sentence, *(f"  {r.name}: {r.before} before, {r.after} after ({r.unit})" for r in told.proof.rows)
           ] if told.proof else []  # fmt: skip
    out += [told.sentence, *(f"  {100 * line.chance:3.0f} %  {line.words}" for line in told.groups)]
    if told.sound:
        out += [told.sound.sentence, *(f"  {line}" for line in told.sound.lines)]
    return out + [f"Note: {remark}" for remark in told.remarks]
