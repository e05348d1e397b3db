"""``counterpoise catalog``: look a family file over, list the families, read an entry."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from counterpoise.catalog.loader import families, inspect_family, load_family
from counterpoise.catalog.lookup import SECTIONS, entries_of, find_entry, plain

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

# the catalog needs no store, so its commands are no commands of a workshop
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group()
def catalog() -> None:
    """What is known of families of machines."""


@catalog.command(
    "check",
    help=(
        "Look a family FILE over: every mistake and warning, with file and line. Exits 1 where "
        "there is a mistake."
    ),
)
@click.argument("file", type=click.Path())
@JSON
@click.pass_context
def check_file(ctx: click.Context, file: str, as_json: bool) -> None:
    """Print every mistake and warning of a family file; exit status 1 where there is a mistake."""
    # warnings alone do not fail: a family can be right and still want a second look
    report = inspect_family(file)
    if as_json:
        click.echo(json.dumps({"problems": report.problems, "warnings": report.warnings}, indent=2))
    else:
        # mistakes first: with them the family cannot be used at all
        for problem in report.problems:
            click.echo(problem)
        for warning in report.warnings:
            click.echo(f"{warning} (warning)")
        size = f" {_size(report.family)}." if report.family else ""
        click.echo(f"{len(report.problems)} mistakes, {len(report.warnings)} warnings.{size}")
    ctx.exit(1 if report.problems else 0)


@catalog.command("families", help="List the families that are shipped.")
@JSON
def list_families(as_json: bool) -> None:
    """Print id, title and number of entries of every shipped family, sorted by id."""
    shipped = [load_family(name) for name in families()]
    if as_json:
        rows = [
            {"id": family.id, "title": family.title}
            | {name: len(entries_of(family, name)) for name in SECTIONS}
            for family in shipped
        ]
        click.echo(json.dumps(rows, indent=2))
        return
    for family in shipped:
        click.echo(f"{family.id}: {family.title}. {_size(family)}.")


@catalog.command(
    "show",
    help=(
        "Show a FAMILY (an id or a file), or one ENTRY of it: a fault, check, repair, access, "
        "part ..."
    ),
)
@click.argument("family")
@click.argument("entry", required=False)
@JSON
def show(family: str, entry: str | None, as_json: bool) -> None:
    """Print a family or one entry of it. Raises NotFoundError, CatalogError."""
    # an id or a file: a family can be read before it is shipped
    known = load_family(family)
    if entry is not None:
        # where an id is used in two sections, "section.id" says which
        section, record = find_entry(known, entry)
        data = {"section": section, **plain(record)}
        click.echo(
            json.dumps(data, indent=2, ensure_ascii=False)
            if as_json
            else "\n".join(_lines(known, data))
        )
        return
    # titles only: whole entries would scroll away
    listing = {
        name: {key: _title(record) for key, record in entries_of(known, name).items()}
        for name in SECTIONS
    }
    if as_json:
        click.echo(
            json.dumps(
                {"id": known.id, "title": known.title, **listing}, indent=2, ensure_ascii=False
            )
        )
        return
    weight = f"about {known.typical_mass_kg:g} kg"
    click.echo(f"{known.title} ({known.id}), {weight}, prices in {known.currency}")
    for name, titles in listing.items():
        click.echo(f"\n{name}")
        for key, title in titles.items():
            click.echo(f"  {key:<26} {title}")


def _size(family: Family) -> str:
    return ", ".join(f"{len(entries_of(family, name))} {name}" for name in SECTIONS)


def _title(record: object) -> str:
    # a caution has no title: its text says all there is
    return str(getattr(record, "title", None) or getattr(record, "text", ""))


def _lines(family: Family, data: dict[str, object]) -> list[str]:
    """An entry for the eye: cautions before the steps, then every field that is filled."""
    # the id stands with its section, as other entries name it so
    lines = [f"{data.get('title', data['id'])} ({data['section']}: {data['id']})"]
    cautions = data.get("cautions", [])
    if isinstance(cautions, list):
        lines += [f"  ! {family.cautions[key].text}" for key in cautions]
    for name, value in data.items():
        if name not in {"title", "id", "section", "cautions"} and value not in (None, [], {}, ""):
            lines += _field(name, value)
    return lines


def _field(name: str, value: object) -> list[str]:
    # steps are followed one by one, so each stands on a line of its own with its number
    if name == "steps" and isinstance(value, list):
        return ["  steps:", *(f"    {number}. {text}" for number, text in enumerate(value, 1))]
    if isinstance(value, dict):
        return [f"  {name}:", *(f"    {key}: {_short(inner)}" for key, inner in value.items())]
    return [f"  {name}: {_short(value)}"]


def _short(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_short(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return ", ".join(_short(inner) for inner in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
