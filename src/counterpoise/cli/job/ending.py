"""How a job ends: the decision, the closing; and an entry taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import money, workshop_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER, Sender, record_entry
from counterpoise.workshop.jobs.entries import Closed, Decision, Retraction

if TYPE_CHECKING:
    from typing import Unpack

    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.services.workshop import Workshop


@click.command("decide")
@NUMBER
@click.argument("option")
@click.option("--agreed", default="", metavar="AMOUNT", help="The price agreed.")
@click.option("--why", default="", help="Why.")
@BY
@LAST
@workshop_command
def decide(
    workshop: Workshop, number: int, *, in_words: bool, option: str, agreed: str, why: str,
    **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Put a decision down: OPTION is the id of a way to end the job."""
    body = Decision(option, money(agreed, "agreed"), why)
    return record_entry(workshop, number, body, in_words, sender)


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
def close(
    workshop: Workshop, number: int, *, in_words: bool, ending: str, faults: tuple[str, ...],
    received: str, note: str, **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Close the job: ENDING is the id of the way it ended."""
    # below zero where it cost the workshop something to be rid of the machine
    received_minor = money(received, "received", negative=True)
    body = Closed(ending, faults, received_minor, note)
    return record_entry(workshop, number, body, in_words, sender)


@click.command("retract")
@NUMBER
@click.argument("entry", type=int)
@click.option("--why", default="", help="Why.")
@BY
@LAST
@workshop_command
def retract(
    workshop: Workshop,
    number: int,
    *,
    in_words: bool,
    entry: int,
    why: str,
    **sender: Unpack[Sender],
) -> Recorded:
    """Take ENTRY back."""
    return record_entry(workshop, number, Retraction(entry, why), in_words, sender)
