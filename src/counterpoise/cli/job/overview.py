"""What the jobs are: listed, one shown, what to do next in it, every step that fits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.job.options import NUMBER

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobAnswer, ListedJob
    from counterpoise.report.views.step_choices import StepGroup
    from counterpoise.workshop.services.workshop import Workshop


@click.command("list")
@click.option("--all", "everything", is_flag=True, help="The closed ones too.")
@workshop_command
def list_jobs(workshop: Workshop, *, in_words: bool, everything: bool) -> list[ListedJob]:
    """List the jobs, newest first."""
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.job import job_list

    lines = [line for line in job_list(workshop.jobs.lines()) if line.open or everything]
    if in_words:
        for line in lines:
            console().print(say(f"No. {line.number:<4} {line.title}  ({line.state})"))
        if not lines:
            console().print("No machine is waiting.")
    return lines


@click.command("next")
@NUMBER
@click.option(
    "--pick", default="", metavar="KIND:ID", help="Show this step instead, like check:springs_look."
)
@click.option(
    "--careful", is_flag=True, help="Choose a step that holds up if the catalog's figures are off."
)
@workshop_command
def next_step(
    workshop: Workshop, number: int, *, in_words: bool, pick: str, careful: bool
) -> JobAnswer:
    """Say what to do now, why, what else it could be, what it is worth."""
    from counterpoise.cli.job.show import bench
    from counterpoise.cli.terminal import console
    from counterpoise.report.views.job import job_answer, job_view
    from counterpoise.workshop.diagnosis.steps import StepBuilder

    view = job_view(workshop, number, careful=careful)
    kind, _, step_id = pick.partition(":")
    picked = StepBuilder.of(view.situation, view.supply).named(kind, step_id) if pick else None
    if in_words:
        console().print(bench(view, picked))
    return job_answer(view, picked)


@click.command("show")
@NUMBER
@workshop_command
def show(workshop: Workshop, number: int, *, in_words: bool) -> dict[str, object]:
    """Show all that was put down about a job."""
    from dataclasses import asdict

    from counterpoise.cli.job.show import evidence
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.job import job_answer, job_view

    view = job_view(workshop, number)
    if in_words:
        console().print(
            say(f"No. {number}  {view.title}", "bold"), say(" · ".join(view.facts)), sep="\n"
        )
        console().print(evidence(view.lines))
    # the answer of the API has no entries: pages show them on a page of their own
    return asdict(job_answer(view)) | {"entries": [asdict(line) for line in view.lines]}


@click.command("steps")
@NUMBER
@workshop_command
def steps(workshop: Workshop, number: int, *, in_words: bool) -> list[StepGroup]:
    """List every check and repair that fits this machine."""
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.job import job_view
    from counterpoise.report.views.step_choices import step_groups
    from counterpoise.report.words.numbers import minutes

    groups = step_groups(job_view(workshop, number))
    for group in groups if in_words else ():
        console().print(say(group.title, "bold"))
        for line in group.lines:
            done = f"; already: {line.done}" if line.done else ""
            console().print(
                say(f"  {line.kind}:{line.id}  {line.title}, {minutes(line.minutes)}{done}")
            )
    return groups
