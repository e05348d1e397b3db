"""``counterpoise measure dampers`` and ``bounce``: friction by scale, and by the pushed tub."""

from __future__ import annotations

from typing import TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import ROW, Numbers, measuring, show
from counterpoise.errors import ReadingError

# How far one can tell a push by hand, and a swing against a rule that does not move (estimate).
_PUSH_SD_MM, _SWING_SD_MM = 3.0, 1.0


class _Bounces(TypedDict):
    """Either whole bounces until it stands, or a later swing in mm and the bounces between."""

    count: int | None
    last_mm: float | None
    cycles: float | None
    sd_mm: float | None


@click.command("dampers", help="Dampers by kitchen or luggage scale, the set side by side.")
@click.option(
    "--damper",
    "dampers",
    type=(str, ROW, ROW),
    multiple=True,
    required=True,
    metavar="NAME IN OUT",
    help="Name, pushes in and pulls out, e.g. --damper left 7.5,7.8 8.1",
)
@click.option(
    "--in",
    "unit",
    type=click.Choice(["kg", "N"]),
    default="kg",
    show_default=True,
    help="Unit of the scale.",
)
@click.option("--new", "new_n", default=80.0, show_default=True, help="Force of a sound one, N.")
@click.option("--sd", "sd_n", default=4.0, show_default=True, help="Doubt (sd) of one pull, N.")
@measuring
def dampers_command(
    dampers: tuple[tuple[str, Numbers, Numbers], ...],
    unit: str,
    new_n: float,
    sd_n: float,
    as_json: bool,
    figure: str | None,
) -> None:
    """Print friction in N of each damper and of the set. Raises ReadingError."""
    from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton

    # a kitchen scale says kg and means the force of that mass
    def force(row: Numbers) -> Numbers:
        return tuple(scale_newton(value) for value in row) if unit == "kg" else row

    # by name, so that the advice can say which of them to replace
    strokes = [
        DamperForces(name, force(pushes), force(pulls), sd_n) for name, pushes, pulls in dampers
    ]
    show(damper_set(strokes, new_n), as_json=as_json, figure=figure)


@click.command(
    "bounce",
    help="Friction of all dampers from the bounces of the pushed tub (it loses 4 F / k each).",
)
@click.option(
    "--push", "push_mm", type=float, required=True, help="How far the tub was pushed down, mm."
)
@click.option("--count", type=int, help="Whole bounces until it stands.")
@click.option("--last", "last_mm", type=float, help="Instead: a later swing, mm ...")
@click.option("--after", "cycles", type=float, help="... and the bounces between.")
@click.option("--stiffness", default=17829.0, show_default=True, help="Springs, vertical, N/m.")
@click.option("--sd", "sd_mm", type=float, help="Doubt (sd) of the push or of each swing, mm.")
@measuring
def bounce_command(
    push_mm: float, stiffness: float, as_json: bool, figure: str | None, **given: Unpack[_Bounces]
) -> None:
    """Print the friction of all dampers in N. Raises ReadingError without a count or a swing."""
    from counterpoise.bench.bounce import bounce, bounce_decay

    # counting bounces takes no ruler; two swings and what lies between tell it closer
    if given["count"] is not None:
        sd = _PUSH_SD_MM if given["sd_mm"] is None else given["sd_mm"]
        result = bounce(push_mm, given["count"], push_sd_mm=sd, stiffness_n_per_m=stiffness)
    elif given["last_mm"] is not None and given["cycles"] is not None:
        sd = _SWING_SD_MM if given["sd_mm"] is None else given["sd_mm"]
        result = bounce_decay(
            push_mm, given["last_mm"], given["cycles"], sd_mm=sd, stiffness_n_per_m=stiffness
        )
    else:
        raise ReadingError(
            "neither a count nor a later swing",
            field="count",
            remedy="give --count, or --last with --after",
        )
    show(result, as_json=as_json, figure=figure)
