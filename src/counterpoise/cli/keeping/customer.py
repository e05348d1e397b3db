"""``counterpoise customer``: what is kept of a customer, given out or taken away on request."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import hand, plain, workshop_command

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop
    from counterpoise.workshop.store.job_lines import JobLine


@click.group()
def customer() -> None:
    """What is kept of a customer: given out, or taken away with the job kept."""


@customer.command(
    "out",
    help=(
        "List the jobs whose machine, contact or serial number has all of WORDS, and with --to "
        "write each with its photos and recordings into a folder."
    ),
)
@click.argument("words")
@click.option(
    "--to",
    "place",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Write job-NUMBER.json for each; a file that exists is kept.",
)
@workshop_command
def out(workshop: Workshop, words: str, *, place: Path | None, in_words: bool) -> object:
    """The jobs and the files written. Raises InputError where a file cannot be written."""
    from counterpoise.cli.transfer import write_text

    lines = _jobs_of(workshop, words)
    files = []
    for line in lines if place is not None else ():
        file = (place or Path()) / f"job-{line.number}.json"
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # as the command export writes it, so that it can be taken in elsewhere
        data = workshop.jobs.export(line.number)
        write_text(file, json.dumps(data, indent=1, ensure_ascii=False) + "\n")
        files.append(str(file))
    if in_words:
        for line in lines:
            click.echo(f"{line.number}  {line.title}, {line.opened_at[:10]}")
        click.echo(f"{len(files)} files written to {place}." if place else f"{len(lines)} jobs.")
    return {"jobs": [line.number for line in lines], "files": files}


def _jobs_of(workshop: Workshop, words: str) -> list[JobLine]:
    from counterpoise.errors import InputError
    from counterpoise.workshop.store.job_lines import LineQuery

    # without a word every customer's jobs would be given out
    if not words.strip():
        raise InputError("words: are empty", field="words", remedy="Give a name or a number")
    # those opened by mistake are in no list, and hold a name all the same
    queries = [LineQuery("open", words), LineQuery("closed", words), LineQuery("mistake", words)]
    lines = [line for query in queries for line in workshop.store.jobs.lines(query)]
    return sorted(lines, key=lambda line: line.number)


@customer.command(
    "away",
    help=(
        "Take texts, photos and sounds of a customer out of JOBS; what was found, done and earned "
        "stays. Without --yes it says what would go. It cannot be undone."
    ),
)
@click.argument("jobs", type=int, nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Take it away now, for good.")
@click.option("--by", default="", help="Who does it.")
@workshop_command
def away(
    workshop: Workshop, jobs: tuple[int, ...], *, yes: bool, by: str, in_words: bool
) -> object:
    """What went, and which backups still hold it. Raises NotFoundError; then nothing went."""
    personal = workshop.store.personal
    # all are looked at first: a slip in the last number must not leave half of them bare
    taken = [personal.of(number) for number in jobs]
    if yes:
        taken = [personal.take_away(number, hand(by)) for number in jobs]
    still = _copies(workshop)
    if in_words:
        for each in taken:
            what = ", ".join(each.fields).replace("_", " ") or "no text"
            click.echo(
                f"Job {each.job}: {what} of {each.entries} entries, {each.photos} photos,"
                f" {each.sounds} sounds."
            )
        click.echo("Taken away." if yes else "Nothing was taken away yet: give --yes for that.")
        if still:
            click.echo("Copies made before still hold it; remove them, or make a backup anew:")
            for copy in still:
                click.echo(f"  {copy}")
    return {"taken": yes, "jobs": [plain(each) for each in taken], "copies": still}


def _copies(workshop: Workshop) -> list[str]:
    """Backups and copies that lie where the program puts them."""
    from counterpoise.cli.keeping.commands import BACKUPS
    from counterpoise.workshop.store.keeping.archive import backups_in
    from counterpoise.workshop.store.keeping.before import all_copies

    engine = workshop.store.database.engine
    file = engine.dialect.name == "sqlite"
    # where the command backup puts them that is told no folder
    beside = Path(engine.url.database or "").absolute().parent if file else Path()
    with workshop.store.database.reading() as connection:
        kept = all_copies(connection)
    return [*(str(path) for path in backups_in(beside / BACKUPS)), *kept]
