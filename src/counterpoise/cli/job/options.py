"""What the commands of a job share: options, and an entry put down and answered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand

if TYPE_CHECKING:
    from counterpoise.report.views.job import Recorded
    from counterpoise.workshop.jobs.entries import Body
    from counterpoise.workshop.services.workshop import Workshop

BY = click.option("--by", default="", help="Who does it; without it, the user of this machine.")
MINUTES = click.option("--minutes", type=float, default=None, help="Minutes it took.")
NOTE = click.option("--note", default="", help="A remark to go with it.")
PHOTO = click.option(
    "--photo",
    "photos",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False),
    help="A photo to keep with it.",
)
LAST = click.option(
    "--expected-last",
    type=int,
    default=None,
    help="Refuse when the job's last entry is another one.",
)
NUMBER = click.argument("number", type=int)


def record_entry(
    workshop: Workshop, number: int, body: Body, tell: bool, more: dict[str, Any]
) -> Recorded:
    """Record an entry and answer with it; raises what recording raises, and then stores nothing."""
    entry = workshop.jobs.record(
        number, body, by=hand(more["by"]), expected_last=more["expected_last"]
    )
    return say_recorded(workshop, number, entry.number, tell)


def say_recorded(workshop: Workshop, number: int, entry: int, tell: bool) -> Recorded:
    """The answer to a recorded entry; where ``tell``, it and the job as it stands are said first."""
    from counterpoise.cli.job.show import bench, console
    from counterpoise.report.views.job import job_view, recorded

    if tell:
        click.echo(f"Put down as entry {entry} of job {number}.")
        console().print(bench(job_view(workshop, number)))
    return recorded(workshop, number, entry)
