"""``counterpoise job``: what the pages do, in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import hand, numbers, pairs, workshop_command
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import (
    Closed,
    Decision,
    Figures,
    Finding,
    Intake,
    Note,
    Proof,
    RepairDone,
    Retraction,
)

if TYPE_CHECKING:
    from counterpoise.report.views.job import Taken
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


@click.group()
def job() -> None:
    """Take machines in, find out, decide, close."""


@job.command("new")
@click.option("--family", default="front_loader", show_default=True, help="The family of machines.")
@click.option(
    "--owner",
    type=click.Choice(["customer", "workshop"]),
    default="customer",
    show_default=True,
    help="Whose.",
)
@click.option(
    "--title", default="", help="What the job is called; without it, after the complaints."
)
@click.option(
    "--complaint",
    "complaints",
    multiple=True,
    help="What is wrong, by its id; may be given several times.",
)
@click.option("--age", type=float, default=None, help="Age in years.")
@click.option(
    "--feature", "features", multiple=True, metavar="NAME=VALUE", help="A feature of this machine."
)
@click.option(
    "--figure",
    "figures",
    multiple=True,
    metavar="NAME=NUMBER",
    help="A figure off its plate: dampers=3.",
)
@click.option(
    "--answer", "answers", multiple=True, metavar="CHECK=OUTCOME", help="What the owner answered."
)
@click.option("--maker", default="", help="Maker.")
@click.option("--model", default="", help="Model.")
@click.option("--serial", default="", help="Serial number.")
@click.option("--contact", default="", help="How to reach the owner.")
@click.option("--story", default="", help="What was said, in the owner's words.")
@click.option(
    "--promised", default="", metavar="DAY", help="The day it is promised for, like 2026-03-05."
)
@click.option(
    "--away", is_flag=True, help="It is worked on at the owner's place: the call-out is charged."
)
@click.option(
    "--paid", default="", metavar="AMOUNT", help="What the workshop paid for the machine."
)
@click.option("--used-parts", is_flag=True, help="The owner agrees to used parts.")
@BY
@workshop_command
def new(workshop: Workshop, *, tell: bool, by: str, **told: Any) -> Taken:
    """Take a machine in."""
    from counterpoise.report.words.numbers import read_money
    from counterpoise.workshop.services.intake import take_in

    answers = [
        Finding(check, outcome) for check, outcome in pairs(told.pop("answers"), "answer").items()
    ]
    features = dict(pairs(told.pop("features"), "feature"))
    figures = Figures(numbers(told.pop("figures"), "figure"), "plate")
    paid = told.pop("paid")
    intake = Intake(
        age_years=told.pop("age"),
        features=features,
        paid_minor=read_money(paid, "paid") if paid else 0,
        **told,
    )
    number = take_in(workshop, intake, answers, hand(by), figures)
    return _taken(workshop, number, workshop.jobs.get(number).entries[-1].number, tell)


@job.command("list")
@click.option("--all", "everything", is_flag=True, help="The closed ones too.")
@workshop_command
def list_jobs(workshop: Workshop, *, tell: bool, everything: bool) -> list[Any]:
    """List the jobs, newest first."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.views.job import listed

    lines = [line for line in listed(workshop.jobs.lines()) if line.open or everything]
    if tell:
        for line in lines:
            console().print(say(f"No. {line.number:<4} {line.title}  ({line.state})"))
        if not lines:
            console().print("No machine is waiting.")
    return lines


@job.command("next")
@NUMBER
@click.option(
    "--pick", default="", metavar="KIND:ID", help="Show this step instead, like check:springs_look."
)
@click.option(
    "--careful", is_flag=True, help="Choose a step that holds up if the catalog's figures are off."
)
@workshop_command
def next_step(workshop: Workshop, number: int, *, tell: bool, pick: str, careful: bool) -> Any:
    """Say what to do now, why, what else it could be, what it is worth."""
    from counterpoise.cli.job.show import bench, console
    from counterpoise.report.views.job import told, view
    from counterpoise.report.views.steps import opened, step_of

    seen = view(workshop, number, careful=careful)
    kind, _, step_id = pick.partition(":")
    picked = (
        step_of(seen.family, kind, step_id, opened(seen.job, seen.family), seen.supply)
        if pick
        else None
    )
    if tell:
        console().print(bench(seen, picked))
    return told(seen, picked)


@job.command("show")
@NUMBER
@workshop_command
def show(workshop: Workshop, number: int, *, tell: bool) -> Any:
    """Show all that was put down about a job."""
    from dataclasses import asdict

    from counterpoise.cli.job.show import console, evidence, say
    from counterpoise.report.views.job import told, view

    seen = view(workshop, number)
    if tell:
        console().print(
            say(f"No. {number}  {seen.title}", "bold"), say(" · ".join(seen.facts)), sep="\n"
        )
        console().print(evidence(seen.lines))
    return asdict(told(seen)) | {"entries": [asdict(line) for line in seen.lines]}


@job.command("steps")
@NUMBER
@workshop_command
def steps(workshop: Workshop, number: int, *, tell: bool) -> Any:
    """List every check and repair that fits this machine."""
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.views.job import view
    from counterpoise.report.views.step_choices import step_groups
    from counterpoise.report.words.numbers import minutes

    groups = step_groups(view(workshop, number))
    for group in groups if tell else ():
        console().print(say(group.title, "bold"))
        for line in group.lines:
            done = f"; already: {line.done}" if line.done else ""
            console().print(
                say(f"  {line.kind}:{line.id}  {line.title}, {minutes(line.minutes)}{done}")
            )
    return groups


@job.command("record")
@NUMBER
@click.argument("check")
@click.argument("outcome", default="")
@click.option(
    "--reading", type=float, default=None, help="The number read, where the check asks for one."
)
@click.option("--reading-sd", type=float, default=None, help="Its error, if not the usual one.")
@MINUTES
@NOTE
@PHOTO
@BY
@LAST
@workshop_command
def record(
    workshop: Workshop,
    number: int,
    check: str,
    outcome: str,
    *,
    tell: bool,
    photos: tuple[str, ...],
    **more: Any,
) -> Any:
    """Put down what CHECK showed: OUTCOME is one of its answers, could_not_tell, or cannot_reach."""
    if not outcome and more["reading"] is None:
        raise InputError(
            "outcome: is missing",
            field="outcome",
            remedy="Give one of the check's answers or --reading.",
        )
    body = Finding(
        check=check,
        outcome=outcome,
        reading=more["reading"],
        reading_sd=more["reading_sd"],
        minutes=more["minutes"],
        note=more["note"],
        photos=_photos(workshop, number, photos),
    )
    return _put_down(workshop, number, body, tell, more)


@job.command("repair")
@NUMBER
@click.argument("repair")
@click.option(
    "--from-shelf",
    "lots",
    multiple=True,
    metavar="LOT[:PIECES]",
    help="Pieces of a lot that were used.",
)
@MINUTES
@NOTE
@PHOTO
@BY
@LAST
@workshop_command
def repair(
    workshop: Workshop, number: int, *, tell: bool, photos: tuple[str, ...], **more: Any
) -> Any:
    """Put REPAIR down as done."""
    body = RepairDone(
        more["repair"], more["minutes"], more["note"], _photos(workshop, number, photos)
    )
    taken = [_taking(text) for text in more["lots"]]
    entry = workshop.jobs.record(
        number, body, by=hand(more["by"]), expected_last=more["expected_last"], taken=taken
    )
    return _taken(workshop, number, entry.number, tell)


def _taking(text: str) -> tuple[int, int]:
    """``12:2``: two pieces of lot 12."""
    lot, _, count = text.partition(":")
    if not (lot.isdecimal() and (count or "1").isdecimal()):
        raise InputError(
            f"from_shelf: {text[:40]} is no lot",
            field="from_shelf",
            remedy="Write it like 12 or 12:2.",
        )
    return int(lot), int(count or 1)


@job.command("proof")
@NUMBER
@click.option(
    "--passed/--failed", "passed", default=None, required=True, help="It runs true, or it does not."
)
@MINUTES
@NOTE
@BY
@LAST
@workshop_command
def proof(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Put down how the proof spin went."""
    return _put_down(
        workshop, number, Proof(more["passed"], more["minutes"], more["note"]), tell, more
    )


@job.command("decide")
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
    return _put_down(workshop, number, body, tell, more)


@job.command("close")
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
    return _put_down(
        workshop, number, Closed(more["ending"], more["faults"], received, more["note"]), tell, more
    )


@job.command("retract")
@NUMBER
@click.argument("entry", type=int)
@click.option("--why", default="", help="Why.")
@BY
@LAST
@workshop_command
def retract(workshop: Workshop, number: int, *, tell: bool, **more: Any) -> Any:
    """Take ENTRY back."""
    return _put_down(workshop, number, Retraction(more["entry"], more["why"]), tell, more)


@job.command("came-back")
@NUMBER
@click.option("--why", default="", help="What is said to be wrong.")
@BY
@LAST
@workshop_command
def came_back(
    workshop: Workshop, number: int, *, tell: bool, why: str, by: str, expected_last: int | None
) -> Any:
    """Open a closed job again: its machine came back."""
    return _taken(
        workshop, number, workshop.jobs.reopen(number, why, hand(by), expected_last).number, tell
    )


@job.command("note")
@NUMBER
@click.argument("text")
@click.option(
    "--parts-due", default="", metavar="DAY", help="Parts are on order, expected on this day."
)
@PHOTO
@BY
@LAST
@workshop_command
def note(
    workshop: Workshop, number: int, *, tell: bool, photos: tuple[str, ...], **more: Any
) -> Any:
    """Put down a remark that belongs to no check."""
    body = Note(more["text"], _photos(workshop, number, photos), parts_due=more["parts_due"])
    return _put_down(workshop, number, body, tell, more)


@job.command("photo")
@NUMBER
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False))
@click.option("--text", default="", help="What it shows.")
@BY
@LAST
@workshop_command
def photo(
    workshop: Workshop, number: int, *, tell: bool, files: tuple[str, ...], **more: Any
) -> Any:
    """Keep photos with the job; where they were taken is removed from them."""
    return _put_down(
        workshop, number, Note(more["text"], _photos(workshop, number, files)), tell, more
    )


@job.command("sheet")
@NUMBER
@click.option(
    "--pdf", type=click.Path(dir_okay=False), default=None, help="Write it as PDF to this file."
)
@click.option(
    "--html", type=click.Path(dir_okay=False), default=None, help="Write it as HTML to this file."
)
@click.option(
    "--address",
    default="",
    help="Where the job can be looked up; put on the PDF as a code to scan.",
)
@workshop_command
def sheet(
    workshop: Workshop, number: int, *, tell: bool, pdf: str | None, html: str | None, address: str
) -> Any:
    """Write the job sheet; without --pdf or --html, to job-NUMBER.pdf."""
    from counterpoise.report.paper.sheet import build_sheet
    from counterpoise.report.paper.sheet_spin import with_spin
    from counterpoise.report.views.job import view

    seen = view(workshop, number)
    made = with_spin(
        build_sheet(seen.job, seen.family, seen.assessment, seen.settings, address), seen
    )
    if tell and not (pdf or html):
        pdf = f"job-{number}.pdf"
    for path in write_sheet(made, pdf, html):
        if tell:
            click.echo(f"Wrote {path}")
    return made


def write_sheet(made: Any, pdf: str | None, html: str | None) -> list[str]:
    """Write a sheet to the files asked for; raises InputError where one cannot be written."""
    from counterpoise.report.paper.html import sheet_html
    from counterpoise.report.paper.pdf import sheet_pdf

    written = []
    for path, form in ((pdf, sheet_pdf), (html, lambda sheet: sheet_html(sheet).encode())):
        if path is not None:
            try:
                Path(path).write_bytes(form(made))
            except OSError as error:
                raise InputError(
                    f"{path}: {error.strerror}", field="file", remedy="Give another file."
                ) from error
            written.append(path)
    return written


def _money(text: str, field: str, *, negative: bool = False) -> int | None:
    from counterpoise.report.words.numbers import read_money

    return read_money(text, field, negative=negative) if text else None


def _photos(workshop: Workshop, number: int, files: tuple[str, ...]) -> tuple[str, ...]:
    workshop.jobs.get(number)
    return tuple(workshop.photos.add(Path(file).read_bytes()) for file in files)


def _put_down(
    workshop: Workshop, number: int, body: Body, tell: bool, more: dict[str, Any]
) -> Taken:
    entry = workshop.jobs.record(
        number, body, by=hand(more["by"]), expected_last=more["expected_last"]
    )
    return _taken(workshop, number, entry.number, tell)


def _taken(workshop: Workshop, number: int, entry: int, tell: bool) -> Taken:
    from counterpoise.cli.job.show import bench, console
    from counterpoise.report.views.job import taken, view

    if tell:
        click.echo(f"Put down as entry {entry} of job {number}.")
        console().print(bench(view(workshop, number)))
    return taken(workshop, number, entry)
