"""``counterpoise store``: backed up, restored, moved, brought up to date."""

from __future__ import annotations

import functools
import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import (
    DEFAULT_STORE,
    STORE_VARIABLE,
    Command,
    families_option,
    plain,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.workshop.store.keeping.archive import BackUp
    from counterpoise.workshop.store.keeping.rows import Sum

BACKUPS = "counterpoise-backups"
_json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group()
def store() -> None:
    """The workshop's store as a whole: back it up and restore it, move it, bring it up to date."""


def backups_folder(where: str) -> Path:
    """Where backups go that are sent nowhere else: beside the store's file."""
    # a database elsewhere has no folder of ours
    beside = Path() if "://" in where else Path(where).absolute().parent
    return beside / BACKUPS


def _store_command(command: Command) -> Command:
    """Give a command ``where`` (the store, not opened) and ``--json``, which prints its answer."""

    @click.option(
        "--store",
        "where",
        envvar=STORE_VARIABLE,
        default=DEFAULT_STORE,
        show_default=True,
        show_envvar=True,
        metavar="PATH",
        help="The workshop's store: a file, or a database URL.",
    )
    @_json_option
    @functools.wraps(command)
    def wrapped(*args: object, as_json: bool, **options: object) -> None:
        _answered(command(*args, in_words=not as_json, **options), as_json)

    return wrapped  # type: ignore[return-value]  # click turns it into a command of its own


def _answered(answer: object, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(plain(answer), indent=2, ensure_ascii=False))


@store.command(
    "backup",
    help=(
        "Write everything of the store into one ZIP of open formats in FOLDER (without it: "
        f"{BACKUPS} beside the store), restore it beside, and compare row by row."
    ),
)
@click.argument(
    "place", metavar="[FOLDER]", type=click.Path(file_okay=False, path_type=Path), required=False
)
@click.option(
    "--keep", type=click.IntRange(1), metavar="N", help="Remove older backups there but the last N."
)
@families_option
@_store_command
def backup(
    place: Path | None, keep: int | None, folder: str | None, *, where: str, in_words: bool
) -> BackUp:
    """The backup as it was checked. Raises InputError, StoreError; then none is left."""
    from dataclasses import replace

    from counterpoise.catalog.places import own_folder
    from counterpoise.workshop.store.database import utc_now
    from counterpoise.workshop.store.keeping.archive import back_up, prune

    place = place or backups_folder(where)
    # the families as they are in use: those of --families, or beside the store
    made = back_up(where, place, own_folder(folder, where), utc_now())
    # only once the new one was checked
    made = replace(made, removed=prune(place, keep or 0))
    if in_words:
        click.echo(
            f"Backed up to {made.file} ({made.size / 1e6:.1f} MB): {_rows(made.tables)},"
            f" {made.files} photos and recordings, {made.families} files of own families."
        )
        click.echo("Restored beside it and compared row by row: the same.")
        if made.removed:
            click.echo(f"{len(made.removed)} older made room.")
    return made


@store.command(
    "restore",
    help="Make a store of FILE, a backup, where none is yet, and check each table of it.",
)
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@families_option
@_store_command
def restore(file: Path, folder: str | None, *, where: str, in_words: bool) -> object:
    """What each table holds now. Raises InputError, StoreError; then nothing is left there."""
    from counterpoise.catalog.places import own_folder
    from counterpoise.workshop.store.keeping.restoring import restore as put_back

    # families go where the commands of this store will look for them
    sums = put_back(file, where, own_folder(folder, where))
    if in_words:
        click.echo(f"Restored {_rows(sums)}; each table is what it was when the backup was made.")
    return {"tables": {name: plain(each) for name, each in sums.items()}}


# It opens two stores and no workshop: no family is asked, and neither is brought up to date.
@store.command(
    "move",
    help=(
        "Copy the store FROM to TO, each a file or a database URL, and compare row by row; FROM "
        "stays as it is. Stop the pages first."
    ),
)
@click.argument("source", metavar="FROM")
@click.argument("target", metavar="TO")
@_json_option
def move_store(source: str, target: str, *, as_json: bool) -> None:
    """Print what each table holds. Raises InputError, StoreError; then nothing is left in TO."""
    from counterpoise.workshop.store.keeping.moving import move

    # everything or nothing: an error leaves the target as empty as it was
    sums = move(source, target)
    if not as_json:
        click.echo(f"Moved {_rows(sums)}; compared row by row: the same.")
        click.echo("Own families lie in files beside the store, and stay there (--families).")
    _answered({"tables": {name: plain(each) for name, each in sums.items()}}, as_json)


@store.command(
    "upgrade",
    help=(
        "Bring the store up to date now, with a copy of it before; whatever opens a store does it "
        "too."
    ),
)
@_store_command
def upgrade_store(*, where: str, in_words: bool) -> object:
    """The revision before and after, and the copy. Raises StoreError; then nothing was changed."""
    from counterpoise.workshop.store.keeping.moving import upgrade

    # said apart from opening, so that somebody can choose the hour
    before, after, copy = upgrade(where)
    if in_words:
        done = f"from revision {before} to {after}. A copy of before is kept: {copy}"
        click.echo(f"Brought {done}" if copy else f"Up to date at revision {after}.")
    return {"before": before, "after": after, "copy": copy}


def _rows(sums: Mapping[str, Sum]) -> str:
    # of one kind of store and of the other the same count, so that a reader can compare
    count = sum(each.rows for each in sums.values())
    return f"{count} rows in {len(sums)} tables"
