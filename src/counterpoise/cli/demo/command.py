"""``counterpoise demo``: three machines of an invented workshop, from intake to their end."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click

from counterpoise.cli.demo.narration import print_end, print_entry, print_head, print_offer
from counterpoise.cli.demo.story import Offer, Story, Turn, best_option, obvious_repair, turn_of
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.report.views.job import JobView
    from counterpoise.workshop.demo.play import Machine, Said
    from counterpoise.workshop.jobs.entries import Body
    from counterpoise.workshop.services.workshop import Workshop


@click.command(
    help=(
        "Play three invented machines to their ends: one mended, one not although the owner "
        "would pay, one for its parts.\n\n"
        "Says what each finding changed, and writes quotes, job sheets and labels."
    )
)
@click.option(
    "--folder",
    default="demo",
    show_default=True,
    type=click.Path(file_okay=False),
    help="Where to write.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def demo(folder: str, as_json: bool) -> None:
    """Play the machines in a store of their own and write their papers. Raises InputError."""
    from counterpoise.workshop.demo.play import MACHINES, SETTINGS
    from counterpoise.workshop.services.intake import open_workshop

    _make_folder(Path(folder))
    # a store of its own: the demo must not write into the workshop's
    with TemporaryDirectory() as scratch:
        workshop = open_workshop(str(Path(scratch) / "demo.db"))
        with workshop.store:
            workshop.change_settings(SETTINGS)
            stories = [
                _play(workshop, machine, Path(folder), in_words=not as_json) for machine in MACHINES
            ]
    if as_json:
        click.echo(
            json.dumps(
                {"machines": [asdict(story) for story in stories]}, indent=2, ensure_ascii=False
            )
        )
        return
    files = ", ".join(Path(file).name for story in stories for file in story.files)
    click.echo(f"\nWritten to {folder}: {files}.")


def _play(workshop: Workshop, machine: Machine, folder: Path, in_words: bool) -> Story:
    from counterpoise.cli.job.sheet import write_sheet
    from counterpoise.report.paper.sheet import build_sheet
    from counterpoise.report.paper.sheet_spin import with_spin
    from counterpoise.report.views.job import job_view
    from counterpoise.workshop.demo.play import MACHINES, play

    # views are kept: what an entry changed is told by the one before it
    turns: list[Turn] = []
    views: list[JobView] = []
    offers: list[Offer] = []
    if in_words:
        print_head(machine, MACHINES.index(machine) + 1)

    def answered(number: int, said: Said) -> Body:
        view = job_view(workshop, number)
        return _quote_and_answer(view, said, _path_of(folder, machine), offers, in_words)

    for job in play(workshop, machine, answered):
        view = job_view(workshop, job.number)
        if in_words:
            print_entry(views, view, whole=machine is MACHINES[0])
        if views:
            turns.append(turn_of(views[-1], view))
        views.append(view)
    # papers of the end, as a customer and the shelf would get them
    last, named = views[-1], _path_of(folder, machine)
    sheet = with_spin(build_sheet(last), last)
    files = write_sheet(sheet, f"{named}-sheet.pdf", f"{named}-sheet.html", {})
    files += [f"{named}-quote.pdf"] if offers else _labels(last, named)
    # where a customer decided, the offer is the lesson; else the repair that looked right
    obvious = None if offers else obvious_repair(views)
    if in_words:
        print_end(views, obvious)
    closed = last.job.closed
    return Story(
        id=machine.id,
        lesson=machine.lesson,
        turns=tuple(turns),
        ending=closed.ending if closed else "",
        received_minor=(closed.received_minor if closed else None) or 0,
        files=tuple(files),
        offer=offers[0] if offers else None,
        obvious=obvious,
    )


def _path_of(folder: Path, machine: Machine) -> str:
    return str(folder / machine.id.replace("_", "-"))


def _quote_and_answer(
    view: JobView, said: Said, named: str, offers: list[Offer], in_words: bool
) -> Body:
    """Quote the work, write the quote, and answer as the customer of the story does."""
    from counterpoise.report.paper.pdf import quote_pdf
    from counterpoise.report.views.quote import quote_paper
    from counterpoise.workshop.diagnosis.prices import Prices
    from counterpoise.workshop.services.quote_answers import QuoteReply, decision_for

    paper, costs = quote_paper(view), view.snapshot.costing()
    Path(f"{named}-quote.pdf").write_bytes(quote_pdf(paper))
    age = view.job.intake.age_years or view.settings.unknown_age_years
    # what the machine would be worth to its owner in working order, times the chance that it works
    worth = costs.works * Prices(view.family, view.settings, "customer", age).working
    best = best_option(view)
    offers.append(
        Offer(
            price_minor=paper.price_minor,
            ceiling_minor=paper.ceiling_minor,
            limit_minor=round(worth),
            works=costs.works,
            kept_minor=costs.estimate.net_minor - costs.own.net_minor,
            best=best.title if best else "",
            accepted=said.option == "repair_hand_back",
        )
    )
    if in_words:
        print_offer(paper, offers[-1])
    answer, _ = decision_for(
        view.snapshot, QuoteReply(said.option, said.who, paper.price_minor, paper.repairs)
    )
    return replace(answer, why=said.why)


def _labels(last: JobView, named: str) -> list[str]:
    # a machine that nobody quoted goes into parts: each gets a label for the shelf
    from counterpoise.report.paper.pdf import labels_pdf
    from counterpoise.report.views.donor import donor

    Path(f"{named}-labels.pdf").write_bytes(labels_pdf(donor(last)))
    return [f"{named}-labels.pdf"]


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{folder}: {error.strerror}", field="folder", remedy="Give another --folder."
        ) from error
