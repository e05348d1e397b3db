"""``counterpoise twin``: what a machine of a family does in a spin, sound and with faults."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from textwrap import fill
from types import MappingProxyType
from typing import TYPE_CHECKING, TypedDict, Unpack

import click

from counterpoise.cli.common import DEFAULT_STORE, STORE_VARIABLE, JsonErrors, workshop_of
from counterpoise.dynamics.answers.what_if import (
    Case,
    WhatIf,
    case_sentences,
    finite_number,
    run_cases,
)
from counterpoise.dynamics.machines.families import FAMILIES, build, family
from counterpoise.dynamics.machines.faults import FAULTS, applies
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.workshop.services.workshop import Workshop

_LINE = 100  # characters a line


class _Given(TypedDict):
    """What the options say; None for what was not given, texts as they were typed."""

    job: int | None
    store: str
    pairs: tuple[str, ...]
    top_rpm: float | None
    load_kg: float
    unbalance: float
    depth: float
    faults: tuple[str, ...]
    point: str
    heaviest: bool
    measured: str | None
    free: tuple[str, ...]


def settings_of(pairs: tuple[str, ...]) -> dict[str, float]:
    """NAME=NUMBER pairs as figures of the machine. Raises InputError for what is no number."""
    values = {}
    for pair in pairs:
        name, sign, value = pair.partition("=")
        if not sign:
            raise InputError(
                f"{pair!r} sets nothing",
                field="set",
                remedy="write NAME=NUMBER, like spring_n_m=9000",
            )
        values[name] = finite_number(value, name)
    return values


def phone_at(text: str) -> Phone:
    """X,Y in metres from the middle of the top panel. Raises InputError for what is no point."""
    x, _, y = text.partition(",")
    try:
        return Phone(finite_number(x, "point"), finite_number(y, "point"))
    except InputError as error:
        raise InputError(
            f"{text!r} is no point on the top panel",
            field="point",
            remedy="write X,Y in m from its middle, like 0.1,-0.2",
        ) from error


def list_all(key: str, as_json: bool) -> None:
    """Print the figures of a kind of machine, with unit, range and source, and its faults."""
    values = family(key).values
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
        figures: dict[str, object] = dict(case.study.summary.to_dict())
        if case.heaviest:
            figures["heaviest_item"] = asdict(case.heaviest)
        data[case.key] = figures
    return data


def draw(cases: tuple[Case, ...], path: str) -> None:
    """Write the curves of all cases to an SVG file. Raises InputError for another kind of file."""
    # matplotlib takes a second to import; words and JSON need none of it
    from counterpoise.report.figures.dynamics import save_svg, twin_figure

    if Path(path).suffix.lower() != ".svg":
        raise InputError(f"{path} is no SVG file", field="figure", remedy="end the name with .svg")
    save_svg(twin_figure({case.words: case.study for case in cases}), path)


@click.command(
    cls=JsonErrors,
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
    default="front_loader",
    type=click.Choice(sorted(FAMILIES)),
    help="Kind of machine.",
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
    "--unbalance", default=0.3, type=click.FloatRange(0.0, 5.0), help="Thing on the drum wall, kg."
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
    **given: Unpack[_Given],
) -> None:  # fmt: skip
    """Compute the cases and print them. Raises InputError, NotFoundError."""
    if listing:
        list_all(key, as_json)
        return
    known: list[str] = []
    if given["job"] is None:
        asked = question(key, given)
    else:
        # only a machine of a job needs the store, so only it opens one
        workshop = workshop_of(ctx, given["store"])
        asked, known = question_of_job(workshop, given["job"], given)
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


def question_of_job(workshop: Workshop, number: int, given: _Given) -> tuple[WhatIf, list[str]]:
    """The question for a job's machine, and what is known of it in lines; the last line is empty.

    Without ``faults`` its leading suspects are asked for. Raises NotFoundError.
    """
    from counterpoise.report.views.job import job_view
    from counterpoise.report.views.machine_figures import own_machine
    from counterpoise.report.views.twin_question import model_kind, suspected_faults

    view = job_view(workshop, number)
    key, own = model_kind(view), own_machine(view.job, view.family)
    typed = settings_of(given["pairs"])
    asked = given.copy()
    asked["faults"] = given["faults"] or tuple(suspected_faults(view, key))
    asked["top_rpm"] = given["top_rpm"] or own.top_rpm
    figures = own.values(key, typed)
    head = f"Job {view.job.number}, {view.title}. Known of this machine:"
    nothing = "Nothing is known of this machine itself: all is usual for its kind."
    known = [head if own.words else nothing]
    held = figures | ({"top_rpm": own.top_rpm} if own.top_rpm else {})
    # what was typed just now need not be told back
    known += [
        f"  {name} {value:g}, {own.words[name]}"
        for name, value in held.items()
        if name not in typed
    ]
    return question(key, asked, figures), [*known, ""]


def levels_in(path: str) -> tuple[tuple[float, float], ...]:
    """Rows "rpm,mm rms" of a CSV file; a first row of words is passed over.

    Raises InputError with file and line for a row that cannot be.
    """
    from counterpoise.dynamics.fitting.measured_run import check_level

    try:
        lines = Path(path).read_text("utf-8").splitlines()
    except UnicodeDecodeError as error:
        raise InputError(
            f"{path} is no text", field="measured", remedy="save it as CSV, encoded as UTF-8"
        ) from error
    levels = []
    for place, line in enumerate(lines, 1):
        parts = [part.strip() for part in line.replace(";", ",").split(",")]
        # a table may have a head, in words
        if not line.strip() or (place == 1 and not is_number(parts[0])):
            continue
        try:
            level = finite_number(parts[0], "rpm"), finite_number("".join(parts[1:2]), "mm")
            check_level(*level)
        except InputError as error:
            raise InputError(
                f"{path}, line {place}: {line!r}: {error.message}",
                field="measured",
                remedy="write rpm,mm like 166,3.15",
            ) from error
        levels.append(level)
    return tuple(levels)


def is_number(text: str) -> bool:
    """Whether a text is a number; the head of a column is none."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def fitted(
    key: str, values: Mapping[str, float], measured: str, given: _Given
) -> Mapping[str, float]:
    """Figures fitted to a measured run (a CSV file), and said on stderr. Raises InputError."""
    from counterpoise.dynamics.fitting.measured_run import MeasuredRun, fit

    run = MeasuredRun(given["unbalance"], given["depth"], levels_in(measured), given=values)
    # what a run tells of most machines: how stiff it hangs, and how much its dampers still brake
    result = fit(key, run, given["free"] or ("spring_n_m", "damper_friction_n"))
    text = ", ".join(f"{name} {value:g}" for name, value in result.values.items())
    edge = f"; at the end of its range: {', '.join(result.at_limit)}" if result.at_limit else ""
    # beside the answer, so that --json stays JSON
    click.echo(f"Fitted: {text}; misfit {result.misfit:.2f} standard errors{edge}.", err=True)
    return result.values


def question(key: str, given: _Given, own: Mapping[str, float] = MappingProxyType({})) -> WhatIf:
    """What is asked, fitted to a measured run first where there is one. Raises InputError.

    ``own``: figures known from a job; what was typed goes before them.
    """
    values = {**own, **settings_of(given["pairs"])}
    if given["measured"]:
        values |= fitted(key, values, given["measured"], given)
    return WhatIf(
        key,
        tuple(values.items()),
        top_rpm=given["top_rpm"],
        load_kg=given["load_kg"],
        unbalance_kg=given["unbalance"],
        depth=given["depth"],
        faults=given["faults"],
        phone=phone_at(given["point"]),
    )
