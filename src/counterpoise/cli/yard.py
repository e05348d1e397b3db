"""``counterpoise yard``: which machine next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.report.views.next_machine import Yard
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    help=(
        "Say which machine to take next: what an hour at the bench adds to each, and which fill "
        "the hours best."
    )
)
@click.option(
    "--hours",
    type=click.FloatRange(0, 168),
    default=4.0,
    show_default=True,
    help="Bench time to fill.",
)
@workshop_command
def yard(workshop: Workshop, *, in_words: bool, hours: float) -> Yard:
    """The open jobs by what an hour at the bench adds (minor units), and those that fit."""
    from counterpoise.report.views.next_machine import yard as waiting_machines

    answer = waiting_machines(workshop, hours)
    if in_words:
        _print(answer)
    return answer


def _print(yard: Yard) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.report.views.next_machine import to_whom
    from counterpoise.report.words.numbers import about, day, minutes

    fitting = {job.number for job in yard.fits}
    grid = Table.grid(padding=(0, 2))
    # on a narrow terminal the names fold, not the figures
    for keep in (True, True, False, True, True, True):
        grid.add_column(no_wrap=keep)
    for job in yard.bench:
        gain = f"{about(job.per_hour_minor or 0, yard.currency)} an hour {to_whom(job)}"
        # a promise presses harder than a wait, so it is the one that is said
        promised = ""
        if job.promised:
            late = "late: " if job.number in yard.late else ""
            promised = f"{late}promised for {day(job.promised)}"
        elif job.days_waiting:
            promised = f"customer waits {job.days_waiting} days"
        grid.add_row(
            say("*" if job.number in fitting else ""),
            say(f"No. {job.number}"),
            say(job.title),
            Text(gain, justify="right"),
            say(minutes(job.minutes)),
            say(promised, "bold"),
        )
    screen = console()
    screen.print(grid if yard.bench else "No machine waits for the bench.")
    if fitting:
        own = f"{about(yard.fits_own_minor, yard.currency)} more for us"
        theirs = f"{about(yard.fits_customers_minor, yard.currency)} for customers"
        filled = f"{minutes(yard.fits_minutes)}, {own}, {theirs}"
        screen.print(say(f"* fill {minutes(60 * yard.hours)} best: {filled}."))
    for job in yard.waits:
        due = day(job.parts_due)
        screen.print(say(f"Waits for parts, due {due}: No. {job.number} {job.title}"))
    for job in yard.decide:
        screen.print(say(f"Decide only: No. {job.number} {job.title}: {job.next}"))
    for text in yard.assumed:
        screen.print(say(f"Assumed: {text}", "dim"))
    for left in yard.left_out:
        screen.print(say(f"Not weighed: No. {left.number} {left.title}: {left.why}", "bold"))
