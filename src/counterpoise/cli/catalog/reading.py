"""``counterpoise catalog check``, ``families`` and ``show``: what is known, and from where."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from counterpoise.catalog.lookup import SECTIONS, entries_of, find_entry, plain
from counterpoise.cli.common import catalog_command

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family
    from counterpoise.catalog.loader import Catalog
    from counterpoise.catalog.report import Origin, Report

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.command(
    "check",
    help=(
        "Look FILE (a family, its stories, or changes) over: every mistake and warning, with file "
        "and line.\n\nThe id of a family will do as well. Exits 1 where there is a mistake."
    ),
)
@click.argument("file", type=click.Path())
@JSON
@catalog_command
@click.pass_context
def check_file(ctx: click.Context, file: str, known: Catalog, as_json: bool) -> None:
    """Print every mistake and warning of a file; exit status 1 where there is a mistake."""
    # warnings alone do not fail: a family can be right and still want a second look
    problems, warnings, size = _checked(file, known)
    if as_json:
        click.echo(json.dumps({"problems": problems, "warnings": warnings}, indent=2))
    else:
        # mistakes first: with them the family cannot be used at all
        for problem in problems:
            click.echo(problem)
        for warning in warnings:
            click.echo(f"{warning} (warning)")
        click.echo(
            f"{_counted(len(problems), 'mistake')}, {_counted(len(warnings), 'warning')}.{size}"
        )
    ctx.exit(1 if problems else 0)


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


def _checked(file: str, known: Catalog) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    """Mistakes, warnings and size of a file, or of a family by its id. Raises NotFoundError."""
    if file in known.origins() or not Path(file).is_file():
        report = known.inspect(file)
        size = f" {_size(report.family)}." if report.family else ""
        return report.problems, report.warnings, size
    # what reads stories and changes brings more in than a list of families needs
    from counterpoise.workshop.services.own_families.files import look_over

    looked = look_over(Path(file), known)
    stories = f" {len(looked.stories)} stories." if looked.stories else ""
    whole = looked.family is not None and looked.kind != "stories"
    size = f" {_size(looked.family)}." if looked.family is not None and whole else ""
    return looked.problems, looked.warnings, size + stories


@click.command(
    "families",
    help=(
        "List the families, and where each is from: shipped, changed, or the workshop's own.\n\n"
        "A family whose file is broken is listed with what is wrong with it."
    ),
)
@JSON
@catalog_command
def list_families(known: Catalog, as_json: bool) -> None:
    """Print id, title, origin and number of entries of every family, sorted by id."""
    rows = [(key, origin, known.inspect_at(origin)) for key, origin in known.origins().items()]
    if as_json:
        listed = [_row(key, origin, report) for key, origin, report in rows]
        click.echo(json.dumps(listed, indent=2, ensure_ascii=False))
        return
    for key, origin, report in rows:
        for line in _listed(key, origin, report):
            click.echo(line)
    there = "" if known.folder and known.folder.is_dir() else " (there is no such folder yet)"
    click.echo(f"The workshop's own families are in {known.folder}{there}.")


def _row(key: str, origin: Origin, report: Report) -> dict[str, object]:
    family = report.family
    counts = {name: len(entries_of(family, name)) if family else 0 for name in SECTIONS}
    # counts of a broken one are 0: nothing of it is used
    return {
        "id": key,
        "title": family.title if family else "",
        **counts,
        "origin": origin.text,
        "file": str(origin.changes or origin.file),
        "changes": [
            {"place": c.place, "shipped": c.shipped, "here": c.here, "source": c.source}
            for c in (family.changes if family else ())
        ],
        "problems": list(report.problems),
    }


def _listed(key: str, origin: Origin, report: Report) -> list[str]:
    family = report.family
    where = f" ({origin.changes or origin.file})" if origin.own or origin.changes else ""
    if family is None:
        lines = [f"{key}: broken, {origin.text}{where}"]
        return lines + [f"  {problem}" for problem in report.problems]
    lines = [f"{key}: {family.title}. {_size(family)}. {_capital(origin.text)}{where}."]
    return lines + [f"  {change.place}: {change.text}" for change in family.changes]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@click.command(
    "show",
    help=(
        "Show a FAMILY (an id or a file), or one ENTRY of it: a fault, check, repair, access, "
        "part ..."
    ),
)
@click.argument("family")
@click.argument("entry", required=False)
@JSON
@catalog_command
def show(family: str, entry: str | None, known: Catalog, as_json: bool) -> None:
    """Print a family or one entry of it. Raises NotFoundError, CatalogError."""
    # an id or a file: a family can be read before it is in any folder
    found = known.load(family)
    if entry is not None:
        # where an id is used in two sections, "section.id" says which
        section, record = find_entry(found, entry)
        data = {"section": section, **plain(record)}
        click.echo(
            json.dumps(data, indent=2, ensure_ascii=False)
            if as_json
            else "\n".join(_lines(found, data))
        )
        return
    # titles only: whole entries would scroll away
    listing = {
        name: {key: _title(record) for key, record in entries_of(found, name).items()}
        for name in SECTIONS
    }
    if as_json:
        head: dict[str, object] = {"id": found.id, "title": found.title}
        changes = {"changes": [plain(change) for change in found.changes]}
        click.echo(json.dumps(head | listing | changes, indent=2, ensure_ascii=False))
        return
    weight = f"about {found.typical_mass_kg:g} kg"
    click.echo(f"{found.title} ({found.id}), {weight}, prices in {found.currency}")
    for name, titles in listing.items():
        click.echo(f"\n{name}")
        for key, title in titles.items():
            click.echo(f"  {key:<26} {title}")
    for change in found.changes:
        click.echo(f"\n{change.place}: {change.text}")


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
