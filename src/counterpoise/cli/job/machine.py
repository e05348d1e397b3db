"""``counterpoise job machine``: the figures of a job's own machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Unpack

import click

from counterpoise.cli.common import hand, numbers, writing_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER, Sender
from counterpoise.workshop.jobs.entries import Figures

if TYPE_CHECKING:
    from counterpoise.report.views.job import Recorded
    from counterpoise.report.views.machine_figures import FigureLine, OwnFigures
    from counterpoise.workshop.jobs.choices import HowByHand
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    "machine", help="Show what is known of this very machine; with --set, put more down."
)
@NUMBER
@click.option(
    "--set",
    "figures",
    multiple=True,
    metavar="NAME=NUMBER",
    help="Put a figure down, like dampers=3.",
)
# a figure is worth as much as the way it came by: told may be wrong, measured has its error
@click.option(
    "--how",
    type=click.Choice(["told", "plate", "counted", "measured"]),
    default="told",
    show_default=True,
    help="How it is known.",
)
@NOTE
@BY
@LAST
@writing_command
def machine(
    workshop: Workshop, number: int, *, in_words: bool, figures: tuple[str, ...], how: HowByHand,
    note: str, **sender: Unpack[Sender],
) -> OwnFigures | Recorded:  # fmt: skip
    """Known and open figures, or the recorded entry. Raises InputError naming the figure."""
    from counterpoise.report.views.job import recorded
    from counterpoise.report.views.machine_figures import own_figures

    if figures:
        body = Figures(numbers(figures, "set", "machine_kg=68"), how, note=note)
        entry = workshop.jobs.record(
            number, body, by=hand(sender["by"]), expected_last=sender["expected_last"]
        )
        # a program gets the answer to its entry, a person the list as it now stands
        if not in_words:
            return recorded(workshop, number, entry.number)
        click.echo(f"Saved as entry {entry.number} of job {number}.")
    answer = own_figures(workshop.jobs.get(number), workshop.jobs.family_of(number))
    if in_words:
        click.echo("\n".join(_lines(answer)))
    return answer


def _lines(answer: OwnFigures) -> list[str]:
    # what is known comes first, with the entry to look it up by
    known = [figure for figure in answer.figures if figure.how]
    return [
        "Known of this machine:" if known else "No figure of this machine is known.",
        *(_known(figure) for figure in known),
        "Could be known:",
        *(_open(figure) for figure in answer.figures if not figure.how),
    ]


def _known(figure: FigureLine) -> str:
    about = f" give or take {figure.error:.2g}" if figure.error else ""
    value = f"{figure.value:g}{about} {figure.unit}"
    return f"  {figure.id:22} {value}, {figure.how}, entry {figure.entry}"


def _open(figure: FigureLine) -> str:
    # few possible values are listed, a span of them is named by its ends
    span = " or ".join(f"{value:g}" for value in figure.values)
    span = span or f"{figure.low:g} to {figure.high:g}"
    return f"  {figure.id:22} {figure.title}: {span} {figure.unit}".rstrip()
