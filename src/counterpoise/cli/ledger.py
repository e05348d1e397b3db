"""``counterpoise ledger``: the jobs closed in a month."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.terminal import console, say, write_file

if TYPE_CHECKING:
    from counterpoise.workshop.billing.ledger import Ledger
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    help=(
        "Say what the jobs closed in MONTH (like 2026-03; without it, the last with any) took "
        "and left."
    )
)
@click.argument("month", default="")
@click.option(
    "--csv",
    "file",
    type=click.Path(dir_okay=False),
    default=None,
    help="Write the lines to this file.",
)
@workshop_command
def ledger(workshop: Workshop, month: str, *, in_words: bool, file: str | None) -> Ledger:
    """The ledger of a month, written as CSV where asked. Raises InputError."""
    from counterpoise.report.views.ledger import month_ledger
    from counterpoise.workshop.billing.ledger import as_csv

    answer = month_ledger(workshop, month)
    if file:
        write_file(file, as_csv(answer).encode())
    if in_words:
        _print(answer)
    return answer


def _print(ledger: Ledger) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.report.words.numbers import minutes, money

    grid = Table.grid(padding=(0, 2))
    for line in ledger.lines:
        # amounts stand one under the other by their cents
        grid.add_row(
            say(f"No. {line.number}"),
            say(line.title),
            say(minutes(line.bench_minutes)),
            Text(money(line.received_minor, ledger.currency), justify="right"),
            Text(money(line.margin_minor, ledger.currency), justify="right"),
            say(line.ending, "dim"),
        )
    screen = console()
    screen.print(say(f"{ledger.month}: job, bench time, received, left", "bold"))
    screen.print(grid if ledger.lines else "No job was closed in this month.")
    received = money(ledger.received_minor, ledger.currency)
    left = money(ledger.margin_minor, ledger.currency)
    sums = f"{minutes(ledger.bench_minutes)}, {received} received, {left} left"
    screen.print(say(f"Together: {sums}.", "bold"))
    for left_out in ledger.left_out:
        text = f"In no sum: No. {left_out.number} {left_out.title}: {left_out.why}"
        screen.print(say(text, "bold"))
