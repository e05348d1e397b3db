"""``counterpoise pool``: counts given to other workshops, taken from them, taken out again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import workshop_command
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from counterpoise.workshop.learning.pool.contribution import Contribution
    from counterpoise.workshop.services.learned.pool import PoolState
    from counterpoise.workshop.services.workshop import Workshop


@click.group()
def pool() -> None:
    """Share counts, never jobs, with other workshops, and start from theirs."""


@pool.command(help="Write our counts to FILE for other workshops; without FILE, print them.")
@click.argument("file", type=click.Path(dir_okay=False), required=False)
@click.option("--replace", is_flag=True, help="Write over FILE where it exists.")
@workshop_command
def give(
    workshop: Workshop, file: str | None, *, replace: bool, in_words: bool
) -> dict[str, object]:
    """Write our counts, signed. Raises InputError."""
    from counterpoise.workshop.services.learned.pool import give as given_now

    given = given_now(workshop)
    figures = sum(map(len, given.families.values()))
    words = f"{figures} figures of {given.quarter}, revision {given.revision}"
    return _written(given, file, words, replace=replace, in_words=in_words)


@pool.command(help="Write to FILE what takes our share out of every pool that takes it in.")
@click.argument("file", type=click.Path(dir_okay=False), required=False)
@click.option("--replace", is_flag=True, help="Write over FILE where it exists.")
@workshop_command
def leave(
    workshop: Workshop, file: str | None, *, replace: bool, in_words: bool
) -> dict[str, object]:
    """Write our leaving, signed. Raises InputError."""
    from counterpoise.workshop.services.learned.pool import leave as left_now

    words = "Whoever takes this in has our share no more"
    return _written(left_now(workshop), file, words, replace=replace, in_words=in_words)


@pool.command(help="Take in FILES that other workshops gave, in any order, as often as you like.")
@click.argument("files", type=click.Path(), nargs=-1, required=True)
@click.option("--dry-run", is_flag=True, help="Check the files, and keep nothing.")
@workshop_command
def take(
    workshop: Workshop, files: tuple[str, ...], *, dry_run: bool, in_words: bool
) -> dict[str, object]:
    """Take in what others gave. Raises InputError; then nothing is kept."""
    from counterpoise.workshop.services.learned.pool import state
    from counterpoise.workshop.services.learned.pool import take as taken

    new = taken(workshop, [_read(Path(each)) for each in files], dry=dry_run)
    standing = state(workshop)
    if in_words:
        click.echo(f"{len(new)} {'can be taken in' if dry_run else 'taken in'}.")
        _print(standing)
    return {"taken": [each.id for each in new], "stored": not dry_run, **_plain(standing)}


@pool.command(help="Say who is in the pool, who is left out and why, and what starts from it.")
@workshop_command
def show(workshop: Workshop, *, in_words: bool) -> dict[str, object]:
    """How the pool stands. Raises InputError."""
    from counterpoise.workshop.services.learned.pool import state

    standing = state(workshop)
    if in_words:
        _print(standing)
    return _plain(standing)


@pool.command(
    help=(
        "Say what the repair records in TABLE (CSV) would change by MAPPING (TOML, "
        "docs/learning.md); with --take they count from now on."
    )
)
@click.argument("table", type=click.Path())
@click.argument("mapping", type=click.Path())
@click.option("--take", "takes", is_flag=True, help="Let them count.")
@workshop_command
def records(
    workshop: Workshop, table: str, mapping: str, *, takes: bool, in_words: bool
) -> dict[str, object]:
    """What records of others change. Raises InputError; then nothing is kept."""
    from counterpoise.catalog.changed_figure import ChangedFigure
    from counterpoise.workshop.services.learned.pool import preview_records, take_records

    preview = preview_records(workshop, _read(Path(table)), _read(Path(mapping)))
    if takes:
        take_records(workshop, preview)
    counted = preview.counted
    if in_words:
        click.echo(
            f"{counted.of} records, each as {counted.weight:g} of a job ({counted.source});"
            f" {'they count now' if takes else 'nothing was kept'}."
        )
        for category, count in counted.left_out.items():
            click.echo(f"Not in the mapping: {category or 'no category'} ({count})")
        for place, before, after in preview.changes:
            change = ChangedFigure(place, before, after, "")
            click.echo(f"{place}: {change.said(before)} becomes {change.said(after)}")
    return {
        "stored": takes, "name": counted.name, "family": counted.family, "records": counted.of,
        "weight": counted.weight, "source": counted.source, "left_out": dict(counted.left_out),
        "changes": [
            {"place": place, "before": before, "after": after}
            for place, before, after in preview.changes
        ],
    }  # fmt: skip


@pool.command(help="Let the records taken in under NAME count no more.")
@click.argument("name")
@workshop_command
def drop(workshop: Workshop, name: str, *, in_words: bool) -> dict[str, object]:
    """Drop records of others. Raises InputError where there are none of this name."""
    from counterpoise.workshop.services.learned.pool import drop_records

    drop_records(workshop, name)
    if in_words:
        click.echo(f"{name} counts no more.")
    return {"dropped": name}


def _written(
    given: Contribution, file: str | None, words: str, *, replace: bool, in_words: bool
) -> dict[str, object]:
    from counterpoise.cli.transfer import write_text

    text = json.dumps(given.to_json(), indent=1, sort_keys=True) + "\n"
    if file is not None:
        write_text(Path(file), text, replace=replace)
    if in_words:
        click.echo(text if file is None else f"{words}: written to {file}.", nl=file is not None)
    return given.to_json()


def _read(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is no text"
        raise InputError(f"{file} cannot be read: {why}", field="file") from error


def _plain(standing: PoolState) -> dict[str, object]:
    return {
        "workshops": list(standing.workshops),
        "gone": list(standing.gone),
        "left_out": dict(standing.left_out),
        "figures": dict(standing.figures),
        "given": standing.given,
        "left": standing.left,
    }


def _print(standing: PoolState) -> None:
    # eight digits of a key tell workshops apart, as on the page
    click.echo(f"Other workshops that count: {len(standing.workshops)}; left: {len(standing.gone)}")
    for name, why in standing.left_out.items():
        click.echo(f"Left out: {name[:8]}, for {why}")
    for family, figures in standing.figures.items():
        click.echo(f"{family}: {figures} figures start from theirs")
    ours = f"revision {standing.given}" if standing.given else "nothing yet"
    click.echo(f"Given by us: {ours}{', and taken out again' if standing.left else ''}")
