"""``counterpoise job machine``: the figures of a job's own machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import click

from counterpoise.cli.common import hand, numbers, workshop_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER
from counterpoise.workshop.jobs.entries import Figures

if TYPE_CHECKING:
    from counterpoise.report.views.machine_figures import FigureLine, OwnFigures
    from counterpoise.workshop.jobs.entries import How
    from counterpoise.workshop.services.workshop import Workshop


@click.command("machine")
@NUMBER
@click.option(
    "--set",
    "figures",
    multiple=True,
    metavar="NAME=NUMBER",
    help="Put a figure down, like dampers=3.",
)
@click.option(
    "--how", type=click.Choice(["told", "plate", "counted", "measured"]), default="told", show_default=True,
    help="How it is known.",
)  # fmt: skip
@NOTE
@BY
@LAST
@workshop_command
def machine(
    workshop: Workshop, number: int, *, tell: bool, figures: tuple[str, ...], **more: Any
) -> Any:
    """Show what is known of this very machine; with --set, put more down."""
    from counterpoise.report.views.job import recorded
    from counterpoise.report.views.machine_figures import own_figures

    if figures:
        body = Figures(numbers(figures, "set"), cast("How", more["how"]), note=more["note"])
        entry = workshop.jobs.record(
            number, body, by=hand(more["by"]), expected_last=more["expected_last"]
        )
        if not tell:
            return recorded(workshop, number, entry.number)
        click.echo(f"Put down as entry {entry.number} of job {number}.")
    told = own_figures(workshop.jobs.get(number), workshop.jobs.family_of(number))
    if tell:
        click.echo("\n".join(_lines(told)))
    return told


def _lines(told: OwnFigures) -> list[str]:
    known = [one for one in told.figures if one.how]
    head = ["Known of this machine:"] if known else ["No figure of this machine is known."]
    return (
        head
        + [_known(one) for one in known]
        + ["Could be known:"]
        + [_open(o) for o in told.figures if not o.how]
    )


def _known(one: FigureLine) -> str:
    about = f" give or take {one.error:.2g}" if one.error else ""
    return f"  {one.id:22} {one.value:g}{about} {one.unit}, {one.how}, entry {one.entry}"


def _open(one: FigureLine) -> str:
    span = " or ".join(f"{v:g}" for v in one.values) or f"{one.low:g} to {one.high:g}"
    return f"  {one.id:22} {one.title}: {span} {one.unit}".rstrip()
