"""``counterpoise job fit``: the machine in motion fitted to a recording of the job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, workshop_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.fit import FitAnswer
    from counterpoise.workshop.services.workshop import Workshop


@click.command("fit")
@NUMBER
@click.argument("recording", default="")
@click.option("--load", type=click.FloatRange(0, 14), help="Wet load in the drum, kg, where known.")
@click.option(
    "--unbalance",
    type=click.FloatRange(0.02, 3),
    help="Weight tied to the drum wall, kg, where known.",
)
@click.option(
    "--free",
    multiple=True,
    metavar="NAME",
    help="A figure that may move; without it, the usual ones.",
)
@click.option("--keep", is_flag=True, help="Put the figures down which the recording tells.")
@click.option(
    "--figure", type=click.Path(dir_okay=False), help="Write the curves to this SVG file."
)
@NOTE
@BY
@LAST
@workshop_command
def fit(workshop: Workshop, number: int, recording: str, *, tell: bool, **more: Any) -> Any:
    """Fit the machine in motion to RECORDING, the id of one put down in the job; without it, to the latest."""
    from counterpoise.report.views.fit import FitRequest, figures_entry, fit_answer, fit_svg
    from counterpoise.report.views.job import recorded

    recording = recording or _latest(workshop, number)
    asked = FitRequest(more["load"], more["unbalance"], tuple(dict.fromkeys(more["free"])))
    told = fit_answer(workshop, number, recording, asked)
    if tell:
        click.echo("\n".join(_lines(told)))
    if more["figure"]:
        _write(more["figure"], fit_svg(workshop, number, recording, asked))
    if not more["keep"]:
        return told
    down = workshop.jobs.record(
        number,
        figures_entry(told, more["note"]),
        by=hand(more["by"]),
        expected_last=more["expected_last"],
    )
    if tell:
        click.echo(f"Put down as entry {down.number} of job {number}.")
    return recorded(workshop, number, down.number)


def _latest(workshop: Workshop, number: int) -> str:
    named = [getattr(entry.body, "recording", "") for entry in workshop.jobs.get(number).standing]
    kept = [each for each in named if each]
    if not kept:
        raise InputError(
            f"Job {number} has no recording",
            field="recording",
            remedy=f"Send one: counterpoise job recording {number} FILE",
        )
    return kept[-1]


def _lines(told: FitAnswer) -> list[str]:
    out = [told.sentence, told.advice, *(f"  {line.sentence}" for line in told.figures)]
    out += ["Held as the job has it:", *(f"  {line}" for line in told.kept)] if told.kept else []
    out += [
        f"Resonance {r.words}: {r.measured_rpm:.0f} recorded, {r.fitted_rpm:.0f} rpm fitted"
        for r in told.resonances
    ]
    return [*out, "In the drum:", *(f"  {line.sentence}" for line in told.drum)]


def _write(path: str, picture: bytes) -> None:
    from pathlib import Path

    try:
        Path(path).write_bytes(picture)
    except OSError as error:
        raise InputError(
            f"{path}: {error.strerror}", field="figure", remedy="Give another file."
        ) from error
