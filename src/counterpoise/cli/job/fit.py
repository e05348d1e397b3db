"""``counterpoise job fit``: the machine in motion fitted to a recording of the job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Unpack

import click

from counterpoise.cli.common import hand, writing_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER, Sender
from counterpoise.cli.terminal import write_file
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.fit import FitAnswer
    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.services.workshop import Workshop


class _Run(Sender):
    """What is known of the run, in kg, which figures may move, and what to do with the result."""

    load: float | None
    unbalance: float | None
    free: tuple[str, ...]
    keep: bool
    figure: str | None
    note: str


@click.command(
    "fit",
    help=(
        "Fit the machine in motion to RECORDING, the id of one saved in the job; without it, "
        "to the latest."
    ),
)
@NUMBER
@click.argument("recording", default="")
# wet laundry of the largest drum at most (estimate); dry weights would be half
@click.option("--load", type=click.FloatRange(0, 14), help="Wet load in the drum, kg, where known.")
# a thing tied to the wall on purpose: with it known, stiffness and friction come apart
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
@writing_command
def fit(
    workshop: Workshop, number: int, recording: str, *, in_words: bool, **run: Unpack[_Run]
) -> FitAnswer | Recorded:
    """The fit, or with ``keep`` the recorded entry. Raises InputError, NotFoundError."""
    from counterpoise.report.figures.chart import FILE_PX
    from counterpoise.report.views.fit import figures_entry, fit_answer, fit_figure
    from counterpoise.report.views.job import recorded
    from counterpoise.report.views.machine_fit import FitRequest

    recording = recording or _latest(workshop, number)
    # a figure named twice moves once
    asked = FitRequest(run["load"], run["unbalance"], tuple(dict.fromkeys(run["free"])))
    answer = fit_answer(workshop, number, recording, asked)
    # drawn of the same fit, which is kept and not computed again
    if run["figure"]:
        drawing = fit_figure(workshop, number, recording, asked, FILE_PX)
        write_file(run["figure"], drawing.encode(), field="figure")
    if in_words:
        click.echo("\n".join(_lines(answer)))
    # looked at first: a fit that is off should not become a figure of the machine
    if not run["keep"]:
        return answer
    figures = figures_entry(answer, run["note"])
    entry = workshop.jobs.record(
        number, figures, by=hand(run["by"]), expected_last=run["expected_last"]
    )
    if in_words:
        click.echo(f"Saved as entry {entry.number} of job {number}.")
    return recorded(workshop, number, entry.number)


def _latest(workshop: Workshop, number: int) -> str:
    # findings, proofs and remarks can each carry a recording; of those that stand the last counts
    named = [getattr(entry.body, "recording", "") for entry in workshop.jobs.get(number).standing]
    kept = [recording for recording in named if recording]
    if not kept:
        raise InputError(
            f"Job {number} has no recording",
            field="recording",
            remedy=f"Send one: counterpoise job recording {number} FILE",
        )
    return kept[-1]


def _lines(answer: FitAnswer) -> list[str]:
    lines = [answer.sentence, answer.advice, *(f"  {line.sentence}" for line in answer.figures)]
    if answer.kept:
        lines += ["Held as the job has it:", *(f"  {line}" for line in answer.kept)]
    lines += [
        f"Resonance {r.words}: {r.measured_rpm:.0f} recorded, {r.fitted_rpm:.0f} rpm fitted"
        for r in answer.resonances
    ]
    return [*lines, "In the drum:", *(f"  {line.sentence}" for line in answer.drum)]
