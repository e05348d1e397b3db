"""``counterpoise twin``: what a machine of a family does in a spin, sound and with faults."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from textwrap import fill
from typing import Unpack

import click

from counterpoise.catalog.loader import Catalog
from counterpoise.catalog.places import own_folder
from counterpoise.cli.common import (
    DEFAULT_STORE,
    STORE_VARIABLE,
    families_option,
    workshop_of,
)
from counterpoise.cli.twin.question import TwinOptions, question, question_of_job
from counterpoise.dynamics.answers.what_if import Case, case_sentences, run_cases
from counterpoise.dynamics.machines.families import FAMILIES, build, family
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.errors import InputError

_LINE = 100  # characters a line


@click.command(
    help=(
        "Work out what a machine does in a spin: resonances, tub travel, feet, force on the "
        "floor, top panel.\n\n"
        'The sound machine comes first, then the same machine with each --fault: "what would '
        'one dead damper do?" is --fault damper_dead.'
    ),
)
@click.option(
    "--family",
    "key",
    default=next(iter(FAMILIES)),
    show_default=True,
    help=f"Kind of machine; there is a model of {', '.join(FAMILIES)}.",
)
@click.option(
    "--job",
    "job",
    type=int,
    help="The machine of this job: its own figures, beside it what is suspected.",
)
@click.option(
    "--store",
    envvar=STORE_VARIABLE,
    default=DEFAULT_STORE,
    show_default=True,
    metavar="PATH",
    help="With --job.",
)
@families_option
@click.option(
    "--set",
    "pairs",
    multiple=True,
    metavar="NAME=NUMBER",
    help="What is known of this machine; see --list.",
)
@click.option("--top-rpm", type=float, help="Top spin speed, 100 to 2000.")
@click.option(
    "--load",
    "load_kg",
    default=0.0,
    type=click.FloatRange(0.0, 20.0),
    help="Evenly spread wet load, kg.",
)
@click.option(
    "--unbalance",
    type=click.FloatRange(0.0, 5.0),
    help="Thing on the drum wall, kg. Without it: what shows the first fault, else 0.3.",
)
@click.option(
    "--depth", default=0.5, type=click.FloatRange(0.0, 1.0), help="Its place: 0 hub, 1 opening."
)
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="KEY[:SEVERITY[:PART]]",
    help="A fault; A+B for two at once.",
)
@click.option(
    "--point", default="0,0", metavar="X,Y", help="Point on the top panel, m from its middle."
)
@click.option(
    "--heaviest",
    is_flag=True,
    help="Also: how heavy a single thing can it spin before it strikes or walks?",
)
@click.option(
    "--measured",
    type=click.Path(exists=True, dir_okay=False),
    help="CSV of rpm,mm rms upright: fit to it first.",
)
@click.option(
    "--free",
    multiple=True,
    metavar="NAME",
    help="Value to fit. Without it: spring and damper friction.",
)
@click.option("--figure", type=click.Path(), help="Write the curves to this SVG file.")
@click.option(
    "--list", "listing", is_flag=True, help="List the values and faults of the family, and stop."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def twin(
    ctx: click.Context, /, key: str, listing: bool, as_json: bool, figure: str | None,
    folder: str | None,
    **given: Unpack[TwinOptions],
) -> None:  # fmt: skip
    """Compute the cases and print them. Raises InputError, NotFoundError."""
    refuse_other_kinds(key, Catalog(own_folder(folder, given["store"])))
    if listing:
        list_all(key, as_json)
        return
    known: list[str] = []
    if given["job"] is None:
        asked = question(key, given)
    else:
        # only a machine of a job needs the store, so only it opens one
        workshop = workshop_of(ctx, given["store"], folder)
        asked, known = question_of_job(workshop, given["job"], given)
    # the sound machine first: every fault is told by what it changes
    cases = run_cases(asked, heaviest=given["heaviest"])
    if figure:
        draw(cases, figure)
    if as_json:
        data = as_data(cases)
        if given["job"] is not None:
            data["known"] = known
        click.echo(json.dumps(data, indent=2))
    else:
        click.echo("\n".join(fill(line, _LINE) for line in known + case_lines(cases)))


def refuse_other_kinds(key: str, known: Catalog) -> None:
    """Raise InputError for a kind without a model, in the words that are said everywhere."""
    if key in FAMILIES or key not in known:
        # an unknown name is refused where the model is looked up
        return
    from counterpoise.report.views.twin_question import refuse_without_model

    refuse_without_model(known[key])


def list_all(key: str, as_json: bool) -> None:
    """Print the figures of a kind of machine, with unit, range and source, and its faults."""
    values = family(key).values
    # only those that this kind can have: no kind has them all
    faults = {k: f.words for k, f in FAULTS.items() if applies(build(key), k)}
    if as_json:
        rows = {name: asdict(value) for name, value in values.items()}
        click.echo(json.dumps({"values": rows, "faults": faults}, indent=2))
        return
    for name, v in values.items():
        click.echo(f"{name:24} {v.default:>9g} {v.unit:<22} {v.low:g} to {v.high:g}; {v.source}")
    click.echo("Faults: " + ", ".join(f"{k} ({words})" for k, words in faults.items()))


def case_lines(cases: tuple[Case, ...]) -> list[str]:
    """Every case in plain words beside the first, the sound machine; empty lines between."""
    lines: list[str] = []
    for case in cases:
        lines += ["", case.words.upper()] if lines else [case.words.upper()]
        lines += case_sentences(case, cases[0])
    return lines


def as_data(cases: tuple[Case, ...]) -> dict[str, object]:
    """The same for programs: figures by key of the case, ``heaviest_item`` where asked for."""
    data: dict[str, object] = {}
    for case in cases:
        # by the key of the case, so that a program finds "sound" without counting
        figures: dict[str, object] = dict(case.study.summary.to_dict())
        if case.heaviest:
            figures["heaviest_item"] = asdict(case.heaviest)
        data[case.key] = figures
    return data


def draw(cases: tuple[Case, ...], path: str) -> None:
    """Write the curves of all cases to an SVG file. Raises InputError for another kind of file."""
    # matplotlib takes a second to import; words and JSON need none of it
    from counterpoise.report.figures.dynamics import save_svg, twin_figure

    # asked before the curves are computed, which takes seconds
    if Path(path).suffix.lower() != ".svg":
        raise InputError(f"{path} is no SVG file", field="figure", remedy="end the name with .svg")
    save_svg(twin_figure({case.words: case.study for case in cases}), path)
