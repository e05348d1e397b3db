"""What the jobs are: listed, one shown, what to do next in it, every step that fits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.cli.job.options import NUMBER

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobAnswer
    from counterpoise.report.views.lists.jobs import ListedJob
    from counterpoise.report.views.step_choices import StepGroup
    from counterpoise.workshop.services.workshop import Workshop


@click.command("list", help="List the jobs, newest first.")
@click.option("--all", "everything", is_flag=True, help="The closed ones too.")
@workshop_command
def list_jobs(workshop: Workshop, *, in_words: bool, everything: bool) -> list[ListedJob]:
    """The open jobs, with ``everything`` all of them, sorted newest first; empty for none."""
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.lists.jobs import job_list

    # closed jobs outnumber the open ones soon; who looks for work wants the open ones
    lines = [line for line in job_list(workshop) if line.open or everything]
    if in_words:
        for line in lines:
            console().print(say(f"No. {line.number:<4} {line.title}  ({line.state})"))
            if line.trouble:
                console().print(say(f"         {line.trouble}: 'job show' says what to do", "bold"))
        if not lines:
            console().print("No machine is waiting.")
    return lines


@click.command("next", help="Say what to do now, why, what else it could be, what it is worth.")
@NUMBER
@click.option(
    "--pick", default="", metavar="KIND:ID", help="Show this step instead, like check:springs_look."
)
@click.option(
    "--careful", is_flag=True, help="Choose a step that holds up if the catalog's figures are off."
)
@click.option(
    "--acknowledged",
    is_flag=True,
    help="Show a picked step whole that must not be run: I read why.",
)
@workshop_command
def next_step(
    workshop: Workshop, number: int, *, in_words: bool, pick: str, careful: bool,
    acknowledged: bool,
) -> JobAnswer:  # fmt: skip
    """The job with its next step, or with that of ``pick``. Raises NotFoundError."""
    from counterpoise.cli.job.show import bench
    from counterpoise.cli.terminal import console
    from counterpoise.report.views.job import job_answer, job_view
    from counterpoise.workshop.diagnosis.steps import StepBuilder

    # careful here and now, whatever the settings say
    view = job_view(workshop, number, careful=careful, ahead=True)
    # "check:springs_look" as the list of steps prints it
    kind, _, step_id = pick.partition(":")
    build = StepBuilder.of(view.situation, view.supply)
    picked = build.picked(kind, step_id, acknowledged=acknowledged) if pick else None
    if in_words:
        console().print(bench(view, picked))
    return job_answer(view, picked)


@click.command("show", help="Show all that was saved about a job.")
@NUMBER
@workshop_command
def show(workshop: Workshop, number: int, *, in_words: bool) -> dict[str, object]:
    """The job with all its entries as JSON values. Raises NotFoundError."""
    from dataclasses import asdict

    from counterpoise.cli.job.show import evidence
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.job import job_answer, job_view

    view = job_view(workshop, number)
    if in_words:
        # head and facts as on the page, then every entry
        console().print(
            say(f"No. {number}  {view.title}", "bold"), say(" · ".join(view.facts)), sep="\n"
        )
        console().print(evidence(view.lines))
    # the answer of the API has no entries: pages show them on a page of their own
    return asdict(job_answer(view)) | {"entries": [asdict(line) for line in view.lines]}


@click.command("steps", help="List every check and repair that fits this machine.")
@NUMBER
@workshop_command
def steps(workshop: Workshop, number: int, *, in_words: bool) -> list[StepGroup]:
    """Every fitting check and repair in groups, with minutes. Raises NotFoundError."""
    from counterpoise.cli.terminal import console, say
    from counterpoise.report.views.job import job_view
    from counterpoise.report.views.step_choices import step_groups
    from counterpoise.report.words.numbers import minutes

    groups = step_groups(job_view(workshop, number))
    for group in groups if in_words else ():
        console().print(say(group.title, "bold"))
        for line in group.lines:
            # a check can be done again; that it was done is said, not forbidden
            done = f"; already: {line.done}" if line.done else ""
            done += "; must not be run now" if line.forbidden else ""
            console().print(
                say(f"  {line.kind}:{line.id}  {line.title}, {minutes(line.minutes)}{done}")
            )
    return groups
