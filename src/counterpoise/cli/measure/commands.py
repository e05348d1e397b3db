"""``counterpoise measure``: turn readings taken by hand into numbers, words and advice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import JsonErrorsGroup
from counterpoise.cli.measure.assemblies import COMMANDS
from counterpoise.cli.measure.readings import ROW, Row, measuring, show
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from counterpoise.bench.level_check import LevelForecast
    from counterpoise.bench.quantity import Quantity

Numbers = tuple[float, ...]


@click.group(cls=JsonErrorsGroup)
def measure() -> None:
    """Turn readings taken by hand into numbers with their doubt, and advice."""


@measure.command("level")
@click.option("--front", type=ROW, help="Laid across at the front; right side high is positive.")
@click.option("--rear", type=ROW, help="Laid across at the rear.")
@click.option("--left", type=ROW, help="Laid along at the left; rear high is positive.")
@click.option("--right", type=ROW, help="Laid along at the right.")
@click.option(
    "--as",
    "unit",
    type=click.Choice(["degrees", "mm/m", "divisions"]),
    default="degrees",
    show_default=True,
)
@click.option("--vial", default=5.0, show_default=True, help="mm/m for one division of the vial.")
@click.option("--sd", type=float, help="Doubt (sd) of one reading, in its unit.")
@click.option("--floating", default="", help="Foot that floats (front left ...), or none.")
@click.option("--gap", "gap_mm", default=0.0, help="Gap under it, mm.")
@click.option(
    "--width", "width_m", default=0.5, show_default=True, help="Between left and right feet, m."
)
@click.option(
    "--depth", "depth_m", default=0.5, show_default=True, help="Between front and rear feet, m."
)
@click.option(
    "--thread", type=click.Choice(["M6", "M8", "M10", "M12"]), default="M8", show_default=True
)
@click.option(
    "--out",
    "extension_mm",
    type=Row(count=4),
    default="0,0,0,0",
    show_default=True,
    help="mm each foot stands out (front left, front right, rear left, rear right); 0 never asks one in.",
)
@click.option(
    "--limit", "limit_mm", default=20.0, show_default=True, help="mm a foot may stand out."
)
@click.option(
    "--within-deg", default=0.5, show_default=True, help="Slope that is good enough, degrees."
)
@click.option("--within-mm", default=0.5, show_default=True, help="Gap that is good enough, mm.")
@click.option(
    "--before",
    type=click.Path(exists=True, dir_okay=False),
    help="JSON of the first time, for the check.",
)
@measuring
def level_command(before: str | None, as_json: bool, figure: str | None, **given: Any) -> None:
    """Level and feet. Two numbers in a reading (0.8,-0.4): the second with the tool turned end for end."""
    from counterpoise.bench.feet import PITCH_MM, Feet, Tolerance
    from counterpoise.bench.level import LevelReadings, level
    from counterpoise.bench.level_check import confirm

    front, rear, left, right = (
        _slope(given[name], given) for name in ("front", "rear", "left", "right")
    )
    readings = LevelReadings(
        front, rear, left, right, floating=given["floating"], gap_mm=given["gap_mm"]
    )
    pitch = PITCH_MM[given["thread"]]
    feet = Feet(given["width_m"], given["depth_m"], pitch, given["extension_mm"], given["limit_mm"])
    tolerance = Tolerance(given["within_deg"], given["within_mm"])
    if before is None:
        show(level(readings, feet, tolerance), as_json=as_json, figure=figure)
    else:
        check = confirm(_foreseen(before), readings, feet, tolerance)
        show(check, as_json=as_json, figure=figure, remarks=check.now.remarks)


def _slope(row: Numbers | None, given: dict[str, Any]) -> Quantity | None:
    """One place: one reading, or two that are half a turn of the tool apart."""
    from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m

    if row is None:
        return None
    if len(row) > 2:
        raise ReadingError(
            f"{len(row)} readings at one place",
            remedy="one, or two with the tool turned end for end",
        )
    value = row[0] if len(row) == 1 else (row[0] - row[1]) / 2
    usual = {"degrees": 0.05, "mm/m": 1.0, "divisions": 0.2}[given["unit"]]
    sd = (usual if given["sd"] is None else given["sd"]) / len(row) ** 0.5
    if given["unit"] == "degrees":
        return from_degrees(value, sd)
    return (
        from_mm_per_m(value, sd)
        if given["unit"] == "mm/m"
        else from_bubble(value, given["vial"], sd)
    )


def _foreseen(path: str) -> LevelForecast:
    """Read back what the first measurement foresaw."""
    from counterpoise.bench.level_check import LevelForecast
    from counterpoise.bench.quantity import Quantity

    try:
        data = json.loads(Path(path).read_text(encoding="utf-8"))
        x, y = (Quantity(**data[name]) for name in ("slope_x", "slope_y"))
        return LevelForecast(
            x, y, float(data["advice"]["after_x_deg"]), float(data["advice"]["after_y_deg"])
        )
    except (ValueError, KeyError, TypeError) as error:
        raise ReadingError(
            f"{path} is no level measurement",
            field="before",
            remedy="save one with: counterpoise measure level ... --json",
        ) from error


@measure.command("runout")
@click.option(
    "--gaps",
    type=Row(gaps=True),
    required=True,
    help="mm at equal steps clockwise from twelve; - where missing.",
)
@click.option("--inner", type=Row(gaps=True), help="The same further in, for the tilt.")
@click.option(
    "--apart", "depth_mm", default=200.0, show_default=True, help="mm between the two rows."
)
@click.option(
    "--way",
    type=click.Choice(["turned", "walked"]),
    default="turned",
    show_default=True,
    help="turned: feeler in one place, drum turned. walked: drum still, feeler goes round.",
)
@click.option("--sd", default=0.3, show_default=True, help="Doubt (sd) of one gap, mm.")
@measuring
def runout_command(
    gaps: Any, inner: Any, depth_mm: float, way: str, sd: float, as_json: bool, figure: str | None
) -> None:
    """Runout, oval and tilt of the drum from gaps round the rim."""
    from counterpoise.bench.runout import Rim, runout

    back = None if inner is None else Rim(inner, sd)
    show(runout(Rim(gaps, sd), back, depth_mm=depth_mm, way=way), as_json=as_json, figure=figure)


@measure.command("strike")
@click.option(
    "--walked",
    type=Row(gaps=True),
    required=True,
    help="Gaps (mm) walked round with the drum still.",
)
@click.option("--turned", type=Row(gaps=True), help="Gaps (mm) at one place with the drum turned.")
@click.option("--play", "play_mm", default=0.0, help="Radial play at the rim, mm.")
@click.option("--sd", default=0.3, show_default=True, help="Doubt (sd) of one gap, mm.")
@measuring
def strike_command(
    walked: Any, turned: Any, play_mm: float, sd: float, as_json: bool, figure: str | None
) -> None:
    """Whether the drum will touch the tub in a spin."""
    from counterpoise.bench.readings import PLAY_MM, possible
    from counterpoise.bench.runout import Rim, runout, strike

    possible(play_mm, PLAY_MM, "play_mm")
    own = None if turned is None else runout(Rim(turned, sd))
    found = strike(runout(Rim(walked, sd), way="walked"), turned=own, play_mm=(play_mm, 0.2))
    show(found, as_json=as_json, figure=figure)


@measure.command("play")
@click.option(
    "--radial",
    type=ROW,
    required=True,
    help="Rim up and down, end to end, mm; repeats with commas.",
)
@click.option("--axial", type=ROW, default=(), help="Drum in and out, mm.")
@click.option("--rocking", type=ROW, default=(), help="Top of the rim in and out, mm.")
@click.option(
    "--round", "round_mm", type=ROW, default=(), help="Radial play with the drum turned on, mm."
)
@click.option("--sd", default=0.2, show_default=True, help="Doubt (sd) of one reading, mm.")
@click.option(
    "--bearings",
    "bearing_distance_m",
    default=0.10,
    show_default=True,
    help="Between the bearings, m.",
)
@click.option(
    "--overhang", "overhang_m", default=0.35, show_default=True, help="Front bearing to rim, m."
)
@click.option(
    "--rim", "rim_diameter_m", default=0.48, show_default=True, help="Diameter of the rim, m."
)
@measuring
def play_command(as_json: bool, figure: str | None, **given: Any) -> None:
    """Play of the drum by wiggling."""
    from counterpoise.bench.play import PlayReadings, Shaft, play

    shaft = Shaft(given["bearing_distance_m"], given["overhang_m"], given["rim_diameter_m"])
    wiggle = PlayReadings(
        given["radial"], given["axial"], given["rocking"], given["round_mm"], given["sd"]
    )
    show(play(wiggle, shaft), as_json=as_json, figure=figure)


@measure.command("dampers")
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
    """Dampers by kitchen or luggage scale, the set side by side."""
    from counterpoise.bench.dampers import DamperForces, damper_set, scale_newton

    def force(row: Numbers) -> Numbers:
        return tuple(scale_newton(value) for value in row) if unit == "kg" else row

    strokes = [
        DamperForces(name, force(pushes), force(pulls), sd_n) for name, pushes, pulls in dampers
    ]
    show(damper_set(strokes, new_n), as_json=as_json, figure=figure)


@measure.command("bounce")
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
    push_mm: float, stiffness: float, as_json: bool, figure: str | None, **given: Any
) -> None:
    """Friction of all dampers from the bounces of the pushed tub (it loses 4 F / k each)."""
    from counterpoise.bench.bounce import bounce, bounce_decay

    if given["count"] is not None:
        sd = 3.0 if given["sd_mm"] is None else given["sd_mm"]
        found = bounce(push_mm, given["count"], push_sd_mm=sd, stiffness_n_per_m=stiffness)
    elif given["last_mm"] is not None and given["cycles"] is not None:
        sd = 1.0 if given["sd_mm"] is None else given["sd_mm"]
        found = bounce_decay(
            push_mm, given["last_mm"], given["cycles"], sd_mm=sd, stiffness_n_per_m=stiffness
        )
    else:
        raise ReadingError(
            "neither a count nor a later swing",
            field="count",
            remedy="give --count, or --last with --after",
        )
    show(found, as_json=as_json, figure=figure)


for command in COMMANDS:
    measure.add_command(command)
