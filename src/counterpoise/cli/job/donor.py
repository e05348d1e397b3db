"""``counterpoise job parts``: what a machine yields as a donor, and its labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.terminal import console, say, write_file

if TYPE_CHECKING:
    from counterpoise.report.views.donor import Donor
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    help=(
        "Say which parts of the machine are good and worth taking off, and write labels for them."
    )
)
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
def parts(
    workshop: Workshop, number: int, *, in_words: bool, file: str | None, address: str
) -> Donor:
    """The machine as a donor, in minor units; labels to a PDF where asked. Raises NotFoundError."""
    from counterpoise.report.views.donor import donor
    from counterpoise.report.views.job import job_view

    answer = donor(job_view(workshop, number))
    if file:
        # paper takes a second to import; on the screen nothing of it is needed
        from counterpoise.report.paper.pdf import labels_pdf

        write_file(file, labels_pdf(answer, address))
    if in_words:
        _print(answer)
    return answer


def _print(donor: Donor) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.money.quote import out_of_ten
    from counterpoise.report.words.numbers import about, if_there, minutes

    screen = console()
    # before the list: taking a machine apart can hurt
    for caution in donor.cautions:
        screen.print(say(f" ! {caution} ", "reverse"))
    grid = Table.grid(padding=(0, 2))
    # keep or leave is decided by what a part brings for the minutes it takes
    for part in donor.parts:
        grid.add_row(
            say("keep" if part.keep else "leave", "bold" if part.keep else "dim"),
            say(part.title),
            say(f"{if_there(part.there)}good {out_of_ten(part.good)}"),
            Text(about(part.gain_minor, donor.currency), justify="right"),
            say(minutes(part.minutes)),
        )
    screen.print(grid if donor.parts else "No part of it repays its minutes.")
