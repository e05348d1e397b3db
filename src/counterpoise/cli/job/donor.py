"""``counterpoise job parts``: what a machine yields as a donor, and its labels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.donor import Donor
    from counterpoise.workshop.services.workshop import Workshop


@click.command()
@click.argument("number", type=int)
@click.option(
    "--labels",
    "file",
    type=click.Path(dir_okay=False),
    default=None,
    help="Write the labels to this PDF.",
)
@click.option(
    "--address",
    default="",
    help="Where the job can be looked up; put on the labels as a code to scan.",
)
@workshop_command
def parts(workshop: Workshop, number: int, *, tell: bool, file: str | None, address: str) -> Any:
    """Say which parts of the machine are good and worth taking off, and write labels for them."""
    from counterpoise.report.views.donor import donor
    from counterpoise.report.views.job import job_view

    found = donor(job_view(workshop, number))
    if file:
        _write(found, file, address)
    if tell:
        _tell(found)
    return found


def _write(found: Donor, file: str, address: str) -> None:
    from pathlib import Path

    from counterpoise.report.paper.pdf import labels_pdf

    try:
        Path(file).write_bytes(labels_pdf(found, address))
    except OSError as error:
        raise InputError(
            f"{file}: {error.strerror}", field="file", remedy="Give another file."
        ) from error


def _tell(found: Donor) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.cli.job.show import console, say
    from counterpoise.money.quote import out_of_ten
    from counterpoise.report.words.numbers import about, minutes

    screen = console()
    for caution in found.cautions:
        screen.print(say(f" ! {caution} ", "reverse"))
    grid = Table.grid(padding=(0, 2))
    for one in found.parts:
        grid.add_row(
            say("keep" if one.keep else "leave", "bold" if one.keep else "dim"), say(one.title),
            say(f"good {out_of_ten(one.good)}"), Text(about(one.gain_minor, found.currency), justify="right"),
            say(minutes(one.minutes)),
        )  # fmt: skip
    screen.print(grid if found.parts else "No part of it repays its minutes.")
