"""How a job ends: the decision, the closing; and an entry taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER, record_entry
from counterpoise.workshop.jobs.entries import Closed, Decision, Retraction

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@click.command("decide")
@NUMBER
@click.argument("option")
@click.option("--agreed", default="", metavar="AMOUNT", help="The price agreed.")
@click.option("--why", default="", help="Why.")
@BY
@LAST
@workshop_command
def decide(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Put a decision down: OPTION is the id of a way to end the job."""
    body = Decision(more["option"], _money(more["agreed"], "agreed"), more["why"])
    return record_entry(workshop, number, body, tell, more)


@click.command("close")
@NUMBER
@click.argument("ending")
@click.option(
    "--fault",
    "faults",
    multiple=True,
    help="What was wrong, by its id; may be given several times.",
)
@click.option("--received", default="", metavar="AMOUNT", help="What it brought in.")
@NOTE
@BY
@LAST
@workshop_command
def close(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Close the job: ENDING is the id of the way it ended."""
    received = _money(more["received"], "received", negative=True)
    return record_entry(
        workshop, number, Closed(more["ending"], more["faults"], received, more["note"]), tell, more
    )


@click.command("retract")
@NUMBER
@click.argument("entry", type=int)
@click.option("--why", default="", help="Why.")
@BY
@LAST
@workshop_command
def retract(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Take ENTRY back."""
    return record_entry(workshop, number, Retraction(more["entry"], more["why"]), tell, more)


def _money(text: str, field: str, *, negative: bool = False) -> int | None:
    from counterpoise.report.words.numbers import read_money

    return read_money(text, field, negative=negative) if text else None
