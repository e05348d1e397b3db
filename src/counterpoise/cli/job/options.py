"""What the commands of a job share: options, and an entry recorded and answered."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

import click

from counterpoise.cli.common import hand

if TYPE_CHECKING:
    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.jobs.entries import Body
    from counterpoise.workshop.services.workshop import Workshop

# who did it goes on every entry; nobody has to log in for it
BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")
# without minutes the catalog's count, and what the workshop really needs is never learned
MINUTES = click.option("--minutes", type=float, default=None, help="Minutes it took.")
NOTE = click.option("--note", default="", help="A remark to go with it.")
PHOTO = click.option(
    "--photo",
    "photos",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False),
    help="A photo to keep with it.",
)
# scripts that read the job before they write need it: somebody at the bench may have been faster
# a step that must not be run is put down only by somebody who has read why
ACKNOWLEDGED = click.option(
    "--acknowledged", is_flag=True, help="It was run although that is forbidden, and I read why."
)
SAFEGUARD = click.option(
    "--safeguard",
    type=click.Choice(["made_safe", "out_of_use", "written_warning"]),
    default=None,
    help="How a machine that must not be used leaves unrepaired.",
)
LAST = click.option(
    "--expected-last",
    type=int,
    default=None,
    help="Refuse when the job's last entry is another one.",
)
NUMBER = click.argument("number", type=int)


class Sender(TypedDict):
    """Who records an entry, and the last entry it was made after (None: whichever is last)."""

    by: str
    expected_last: int | None


class Work(Sender):
    """What is said of any work at the bench; ``minutes`` None where nobody looked at the clock."""

    minutes: float | None
    note: str


def record_entry(
    workshop: Workshop, number: int, body: Body, in_words: bool, sender: Sender
) -> Recorded:
    """Record an entry and answer with it.

    Raises InputError, ReadingError, NotFoundError, and ConflictError where ``expected_last`` is not
    the last entry any more; then nothing is stored.
    """
    entry = workshop.jobs.record(
        number, body, by=hand(sender["by"]), expected_last=sender["expected_last"]
    )
    return recorded_entry(workshop, number, entry.number, in_words)


def recorded_entry(workshop: Workshop, number: int, entry: int, in_words: bool) -> Recorded:
    """The answer to a recorded entry; where ``in_words``, the job as it stands is printed too."""
    from counterpoise.cli.job.show import bench
    from counterpoise.cli.terminal import console
    from counterpoise.report.views.job import job_view, recorded

    if in_words:
        click.echo(f"Saved as entry {entry} of job {number}.")
        # what was recorded may change what to do next, so that is said at once
        console().print(bench(job_view(workshop, number)))
    return recorded(workshop, number, entry)
