"""``counterpoise yard``: which machine next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command

if TYPE_CHECKING:
    from counterpoise.report.views.next_machine import Yard
    from counterpoise.workshop.services.workshop import Workshop


@click.command()
@click.option(
    "--hours",
    type=click.FloatRange(0, 168),
    default=4.0,
    show_default=True,
    help="Bench time to fill.",
)
@workshop_command
def yard(workshop: Workshop, *, tell: bool, hours: float) -> Any:
    """Say which machine to take next: what an hour at the bench adds to each, and which fill the hours best."""
    from counterpoise.report.views.next_machine import yard as weigh

    found = weigh(workshop, hours)
    if tell:
        _tell(found)
    return found


def _tell(found: Yard) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import about, day, minutes

    taken = {job.number for job in found.fits}
    grid = Table.grid(padding=(0, 2))
    for job in found.bench:
        gain = f"{about(job.per_hour_minor or 0, found.currency)} an hour"
        promised = (
            f"{'late: ' * (job.number in found.late)}promised for {day(job.promised)}"
            if job.promised
            else ""
        )
        if job.days_waiting and not promised:
            promised = f"customer waits {job.days_waiting} days"
        grid.add_row(
            say("*" if job.number in taken else ""), say(f"No. {job.number}"), say(job.title),
            Text(gain, justify="right"), say(minutes(job.minutes)), say(promised, "bold"),
        )  # fmt: skip
    screen = console()
    screen.print(grid if found.bench else "No machine waits for the bench.")
    if taken:
        worth = about(found.fits_minor, found.currency)
        screen.print(
            say(
                f"* fill {minutes(60 * found.hours)} best: {minutes(found.fits_minutes)}, {worth} more."
            )
        )
    for job in found.waits:
        screen.print(
            say(f"Waits for parts, due {day(job.parts_due)}: No. {job.number} {job.title}")
        )
    for job in found.decide:
        screen.print(say(f"Decide only: No. {job.number} {job.title}: {job.next}"))
    for left in found.left_out:
        screen.print(say(f"Not weighed: No. {left.number} {left.title}: {left.why}", "bold"))
