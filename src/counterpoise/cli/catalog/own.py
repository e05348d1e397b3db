"""``counterpoise catalog new``, ``try`` and ``add``: a family of one's own, from nothing to use."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import catalog_command

if TYPE_CHECKING:
    from counterpoise.catalog.loader import Catalog
    from counterpoise.workshop.services.own_families.trying import FirstStep, Tried
    from counterpoise.workshop.studies.casebook import CaseVerdict

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.command(
    "new",
    help=(
        "Begin a family NAME: write a commented file and stories that can be tried at once.\n\n"
        "Both are written into the folder this is called in. With --changes NAME is a shipped "
        "family, and the file is for figures that are others in your workshop."
    ),
)
@click.argument("name")
@click.option("--title", default="", metavar="TEXT", help="What a machine of this kind is called.")
@click.option("--changes", is_flag=True, help="Begin changes to the shipped family NAME instead.")
@click.option(
    "--into",
    default=".",
    show_default=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The folder to write to.",
)
@JSON
@catalog_command
def new_file(
    name: str, title: str, into: Path, known: Catalog, *, changes: bool, as_json: bool
) -> None:
    """Write the files and say what to do with them. Raises InputError."""
    from counterpoise.workshop.services.own_families.files import begin

    begun = begin(name, into, known, title=title, changes=changes)
    if as_json:
        click.echo(json.dumps({"id": begun.id, "files": begun.files}, indent=2))
        return
    click.echo(f"Written: {', '.join(begun.files)}")
    # the last holds what is tried; stories are found beside it
    file = begun.files[0]
    click.echo(f"Next: counterpoise catalog try {file}")
    click.echo(f"Then: change {file} in an editor, try it again, and when it is right:")
    click.echo(f"      counterpoise catalog add {file}")


@click.command(
    "try",
    help=(
        "Try FILE without adding it: play the stories beside it, and propose a first step.\n\n"
        "FILE is a family, its stories, or changes to a shipped family (then the first step is "
        "said with and without them). Exits 1 where a story does not go as it says."
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--complaint", "complaints", multiple=True, metavar="ID",
    help="What the owner says; several are given one by one. Without it: the first of the family.",
)  # fmt: skip
@click.option("--age", type=click.FloatRange(0, 70), help="Age of the machine, years.")
@JSON
@catalog_command
@click.pass_context
def try_it(
    ctx: click.Context, file: Path, complaints: tuple[str, ...], age: float | None,
    known: Catalog, *, as_json: bool,
) -> None:  # fmt: skip
    """Print what became of it; exit status 1 where a story is off. Raises CatalogError."""
    from counterpoise.workshop.services.own_families.trying import try_file

    tried = try_file(file, known, complaints, age)
    if as_json:
        click.echo(json.dumps(_tried(tried), indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join(_tried_lines(tried)))
    ctx.exit(1 if tried.off else 0)


def _tried(tried: Tried) -> dict[str, object]:
    from counterpoise.cli.cases import verdict_row

    return {
        "kind": tried.looked.kind,
        "id": tried.looked.id,
        "warnings": tried.looked.warnings,
        "stories": [verdict_row(verdict) for verdict in tried.stories],
        "first": asdict(tried.first),
        "shipped": asdict(tried.shipped) if tried.shipped else None,
    }


def _tried_lines(tried: Tried) -> list[str]:
    from counterpoise.cli.cases import verdict_lines

    looked = tried.looked
    lines = [
        f"{looked.file.name}: {looked.family.title if looked.family else looked.id}, no mistake"
    ]
    lines += [f"{warning} (warning)" for warning in looked.warnings]
    lines += [line for verdict in tried.stories for line in verdict_lines(verdict)]
    lines.append(_stories_in_short(tried.stories, looked.kind))
    lines += ["", *_first_lines(tried.first, tried)]
    if tried.shipped is not None:
        same = tried.shipped.step == tried.first.step
        shipped = "the same" if same else f"{tried.shipped.title} ({tried.shipped.step})"
        lines.append(f"As shipped, the first step is {shipped}.")
    if looked.kind != "stories":
        others = (
            [one for one in looked.family.complaints if one not in tried.first.complaints]
            if (looked.family)
            else []
        )
        if others:
            lines.append(f"Other complaints: --complaint {others[0]} (known: {', '.join(others)})")
    lines.append(f"When it is right: counterpoise catalog add {looked.file}")
    return lines


def _stories_in_short(verdicts: tuple[CaseVerdict, ...], kind: str) -> str:
    if not verdicts:
        return "No stories were played." if kind == "changes" else "There are no stories beside it."
    agreed = sum(not verdict.objections for verdict in verdicts)
    return f"{agreed} of {len(verdicts)} stories go as they say."


def _first_lines(first: FirstStep, tried: Tried) -> list[str]:
    family = tried.looked.family
    titles = [family.complaints[key].title for key in first.complaints] if family else []
    age = "age not known" if first.age_years is None else f"{first.age_years:g} years old"
    lines = [f'A machine comes in: "{", ".join(titles)}", {age}.']
    suspects = ", ".join(f"{title} {chance:.0%}" for _, title, chance in first.suspects)
    lines.append(f"  Suspects: {suspects}")
    if not first.step:
        return [*lines, f"  Nothing to do: {first.why}"]
    lines.append(f"  First: {first.title} ({first.step}), {first.minutes:g} min")
    # cautions stand before the steps, here as everywhere
    lines += [f"    ! {caution}" for caution in first.cautions]
    lines += [f"    {number}. {text}" for number, text in enumerate(first.steps, 1)]
    if first.question:
        lines.append(f"    {first.question}")
    return [*lines, f"  Why: {first.why}"]


@click.command(
    "add",
    help=(
        "Put FILE (a family, its stories, or changes to a shipped one) into the folder of your "
        "own.\n\nIt is looked over first, and refused with line and remedy where anything is "
        "wrong. A family takes its stories (NAME.cases.yaml) and sources along."
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--replace",
    is_flag=True,
    help="Also over a file of that name, or in the place of a shipped family.",
)
@JSON
@catalog_command
def add_file(file: Path, known: Catalog, *, replace: bool, as_json: bool) -> None:
    """Put it there and say so. Raises CatalogError, InputError, NotFoundError."""
    from counterpoise.workshop.services.own_families.adding import add

    added = add(file, known, replace=replace)
    if as_json:
        click.echo(json.dumps(asdict(added), indent=2, ensure_ascii=False))
        return
    for warning in added.warnings:
        click.echo(f"{warning} (warning)")
    click.echo(f"Added to {added.folder}: {', '.join(Path(name).name for name in added.files)}")
    if added.instead:
        click.echo(f"The shipped {added.id} steps back for it.")
    if added.kind == "family":
        click.echo(f"Take one in: counterpoise job new --family {added.id} --complaint ...")
