"""What is asked of the machine as physics, out of the options of the command."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, TypedDict

import click

from counterpoise.dynamics.answers.what_if import WhatIf, finite_number, shown_kg
from counterpoise.dynamics.motion.run import Phone
from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.workshop.services.workshop import Workshop


class TwinOptions(TypedDict):
    """What the options say; None for what was not given, texts as they were typed."""

    job: int | None
    store: str
    pairs: tuple[str, ...]
    top_rpm: float | None
    load_kg: float
    unbalance: float | None
    depth: float
    faults: tuple[str, ...]
    point: str
    heaviest: bool
    measured: str | None
    free: tuple[str, ...]


def question(
    key: str, given: TwinOptions, own: Mapping[str, float] = MappingProxyType({})
) -> WhatIf:
    """What is asked, fitted to a measured run first where there is one. Raises InputError.

    ``own``: figures known from a job; what was typed goes before them.
    """
    # later ones win: usual for the kind, known of the machine, typed just now
    values, heavy = {**own, **settings_of(given["pairs"])}, given["unbalance"]
    if given["measured"]:
        values |= fitted(key, values, given["measured"], given)
    return WhatIf(
        key,
        tuple(values.items()),
        top_rpm=given["top_rpm"],
        load_kg=given["load_kg"],
        # the load that shows what is asked, unless a load is
        unbalance_kg=shown_kg(key, values, given["faults"]) if heavy is None else heavy,
        depth=given["depth"],
        faults=given["faults"],
        phone=phone_at(given["point"]),
    )


def question_of_job(
    workshop: Workshop, number: int, given: TwinOptions
) -> tuple[WhatIf, list[str]]:
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
    # what was typed goes before what the job knows, to ask "what if it were ..."
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


def settings_of(pairs: tuple[str, ...]) -> dict[str, float]:
    """NAME=NUMBER pairs as figures of the machine. Raises InputError for what is no number."""
    values = {}
    for pair in pairs:
        # the value is read here and its range by the machine, which knows its figures
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
    # from the middle, as a phone is laid down by eye
    x, _, y = text.partition(",")
    try:
        return Phone(finite_number(x, "point"), finite_number(y, "point"))
    except InputError as error:
        raise InputError(
            f"{text!r} is no point on the top panel",
            field="point",
            remedy="write X,Y in m from its middle, like 0.1,-0.2",
        ) from error


def fitted(
    key: str, values: Mapping[str, float], measured: str, given: TwinOptions
) -> Mapping[str, float]:
    """Figures fitted to a measured run (a CSV file), and said on stderr. Raises InputError."""
    from counterpoise.dynamics.fitting.measured_run import MeasuredRun, fit

    # a measured run had a weight in the drum, and nobody but its owner knows which
    kg = WhatIf().unbalance_kg if given["unbalance"] is None else given["unbalance"]
    run = MeasuredRun(kg, given["depth"], levels_in(measured), given=values)
    # what a run tells of most machines: how stiff it hangs, and how much its dampers still brake
    result = fit(key, run, given["free"] or ("spring_n_m", "damper_friction_n"))
    text = ", ".join(f"{name} {value:g}" for name, value in result.values.items())
    edge = f"; at the end of its range: {', '.join(result.at_limit)}" if result.at_limit else ""
    # beside the answer, so that --json stays JSON
    click.echo(f"Fitted: {text}; misfit {result.misfit:.2f} standard errors{edge}.", err=True)
    return result.values


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
            # checked where it stands in the file, so that the message can say the line
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
