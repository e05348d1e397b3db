"""``counterpoise ledger``: the jobs closed in a month."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.workshop.billing.ledger import Ledger
    from counterpoise.workshop.services.workshop import Workshop


@click.command()
@click.argument("month", default="")
@click.option(
    "--csv",
    "file",
    type=click.Path(dir_okay=False),
    default=None,
    help="Write the lines to this file.",
)
@workshop_command
def ledger(workshop: Workshop, month: str, *, tell: bool, file: str | None) -> Any:
    """Say what the jobs closed in MONTH (like 2026-03; without it, the last with any) took and left."""
    from counterpoise.report.views.ledger import month_ledger

    found = month_ledger(workshop, month)
    if file:
        _write(found, file)
    if tell:
        _tell(found)
    return found


def _write(found: Ledger, file: str) -> None:
    from pathlib import Path

    from counterpoise.workshop.billing.ledger import as_csv

    try:
        Path(file).write_text(as_csv(found), encoding="utf-8", newline="")
    except OSError as error:
        raise InputError(
            f"{file}: {error.strerror}", field="file", remedy="Give another file."
        ) from error


def _tell(found: Ledger) -> None:
    from rich.table import Table
    from rich.text import Text

    from counterpoise.cli.job.show import console, say
    from counterpoise.report.words.numbers import minutes, money

    grid = Table.grid(padding=(0, 2))
    for line in found.lines:
        grid.add_row(
            say(f"No. {line.number}"), say(line.title), say(minutes(line.bench_minutes)),
            Text(money(line.received_minor, found.currency), justify="right"),
            Text(money(line.margin_minor, found.currency), justify="right"), say(line.ending, "dim"),
        )  # fmt: skip
    screen = console()
    screen.print(say(f"{found.month}: job, bench time, received, left", "bold"))
    screen.print(grid if found.lines else "No job was closed in this month.")
    received, left = (
        money(found.received_minor, found.currency),
        money(found.margin_minor, found.currency),
    )
    screen.print(
        say(f"Together: {minutes(found.bench_minutes)}, {received} received, {left} left.", "bold")
    )
