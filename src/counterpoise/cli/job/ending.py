"""How a job ends: the decision, the closing; and an entry taken back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import money, writing_command
from counterpoise.cli.job.options import BY, LAST, NOTE, NUMBER, SAFEGUARD, Sender, record_entry
from counterpoise.workshop.jobs.entries import Closed, Decision, Retraction

if TYPE_CHECKING:
    from typing import Unpack

    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.jobs.choices import Safeguard
    from counterpoise.workshop.services.workshop import Workshop


@click.command("decide", help="Put a decision down: OPTION is the id of a way to end the job.")
@NUMBER
@click.argument("option")
@click.option("--agreed", default="", metavar="AMOUNT", help="The price agreed.")
@click.option("--why", default="", help="Why.")
@SAFEGUARD
@BY
@LAST
@writing_command
def decide(
    workshop: Workshop, number: int, *, in_words: bool, option: str, agreed: str, why: str,
    safeguard: Safeguard | None, **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Record a decision; ``agreed`` empty for no price. Raises InputError, ConflictError."""
    # no price is not a price of nothing: agreed stays empty
    body = Decision(option, money(agreed, "agreed"), why, safeguard=safeguard or "")
    return record_entry(workshop, number, body, in_words, sender)


@click.command("close", help="Close the job: ENDING is the id of the way it ended.")
@NUMBER
@click.argument("ending")
@click.option(
    "--fault",
    "faults",
    multiple=True,
    help="What was wrong, by its id; may be given several times.",
)
@click.option("--likely", multiple=True, help="What it was likely, though nobody saw it.")
@click.option("--ruled-out", multiple=True, help="What was looked for and is not there.")
@click.option("--minutes", type=float, help="Minutes at the bench in all, where counted.")
@click.option("--received", default="", metavar="AMOUNT", help="What it brought in.")
@NOTE
@SAFEGUARD
@BY
@LAST
@writing_command
def close(
    workshop: Workshop, number: int, *, in_words: bool, ending: str, faults: tuple[str, ...],
    likely: tuple[str, ...], ruled_out: tuple[str, ...], minutes: float | None,
    received: str, note: str, safeguard: Safeguard | None, **sender: Unpack[Sender],
) -> Recorded:  # fmt: skip
    """Record the closing; ``received`` empty where nothing came in. Raises InputError."""
    # below zero where it cost the workshop something to be rid of the machine
    received_minor = money(received, "received", negative=True)
    body = Closed(ending, faults, received_minor, note, safeguard or "", likely, ruled_out, minutes)
    return record_entry(workshop, number, body, in_words, sender)


@click.command("retract", help="Take ENTRY back.")
@NUMBER
@click.argument("entry", type=int)
@click.option("--why", default="", help="Why.")
@BY
@LAST
@writing_command
def retract(
    workshop: Workshop,
    number: int,
    *,
    in_words: bool,
    entry: int,
    why: str,
    **sender: Unpack[Sender],
) -> Recorded:
    """Record that an entry (from 1) is taken back. Raises InputError, ConflictError."""
    # nothing is erased: the entry stays in the evidence, marked as taken back
    return record_entry(workshop, number, Retraction(entry, why), in_words, sender)
