"""``counterpoise catalog``: look a family file over, list the families, read an entry."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from counterpoise.catalog.loader import families, inspect_family, load_family
from counterpoise.catalog.lookup import SECTIONS, entries_of, find_entry, plain

if TYPE_CHECKING:
    from counterpoise.catalog.family import Family

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group()
def catalog() -> None:
    """What is known of families of machines."""


@catalog.command("check")
@click.argument("file", type=click.Path())
@JSON
@click.pass_context
def check_file(ctx: click.Context, file: str, as_json: bool) -> None:
    """Look a family FILE over: every mistake and warning, with file and line. Exits 1 where there is a mistake."""
    report = inspect_family(file)
    if as_json:
        click.echo(json.dumps({"problems": report.problems, "warnings": report.warnings}, indent=2))
    else:
        for problem in report.problems:
            click.echo(problem)
        for warning in report.warnings:
            click.echo(f"{warning} (warning)")
        size = f" {_size(report.family)}." if report.family else ""
        click.echo(f"{len(report.problems)} mistakes, {len(report.warnings)} warnings.{size}")
    ctx.exit(1 if report.problems else 0)


@catalog.command("families")
@JSON
def list_families(as_json: bool) -> None:
    """List the families that are shipped."""
    found = [load_family(name) for name in families()]
    if as_json:
        rows = [
            {"id": one.id, "title": one.title}
            | {name: len(entries_of(one, name)) for name in SECTIONS}
            for one in found
        ]
        click.echo(json.dumps(rows, indent=2))
        return
    for one in found:
        click.echo(f"{one.id}: {one.title}. {_size(one)}.")


@catalog.command("show")
@click.argument("family")
@click.argument("entry", required=False)
@JSON
def show(family: str, entry: str | None, as_json: bool) -> None:
    """Show a FAMILY (an id or a file), or one ENTRY of it: a fault, check, repair, access, part ..."""
    known = load_family(family)
    if entry is not None:
        section, record = find_entry(known, entry)
        data = {"section": section, **plain(record)}
        click.echo(
            json.dumps(data, indent=2, ensure_ascii=False)
            if as_json
            else "\n".join(_lines(known, data))
        )
        return
    listing = {
        name: {key: _title(one) for key, one in entries_of(known, name).items()}
        for name in SECTIONS
    }
    if as_json:
        click.echo(
            json.dumps(
                {"id": known.id, "title": known.title, **listing}, indent=2, ensure_ascii=False
            )
        )
        return
    click.echo(
        f"{known.title} ({known.id}), about {known.typical_mass_kg:g} kg, prices in {known.currency}"
    )
    for name, titles in listing.items():
        click.echo(f"\n{name}")
        for key, title in titles.items():
            click.echo(f"  {key:<26} {title}")


def _size(family: Family) -> str:
    return ", ".join(f"{len(entries_of(family, name))} {name}" for name in SECTIONS)


def _title(record: Any) -> str:
    return str(getattr(record, "title", None) or record.text)


def _lines(family: Family, data: dict[str, Any]) -> list[str]:
    """An entry for the eye: cautions before the steps, then every field that is filled."""
    lines = [f"{data.get('title', data['id'])} ({data['section']}: {data['id']})"]
    lines += [f"  ! {family.cautions[one].text}" for one in data.get("cautions", [])]
    for name, value in data.items():
        if name not in {"title", "id", "section", "cautions"} and value not in (None, [], {}, ""):
            lines += _field(name, value)
    return lines


def _field(name: str, value: Any) -> list[str]:
    if name == "steps":
        return ["  steps:", *(f"    {number}. {text}" for number, text in enumerate(value, 1))]
    if isinstance(value, dict):
        return [f"  {name}:", *(f"    {key}: {_short(inner)}" for key, inner in value.items())]
    return [f"  {name}: {_short(value)}"]


def _short(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_short(inner)}" for key, inner in value.items())
    if isinstance(value, list):
        return ", ".join(_short(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
