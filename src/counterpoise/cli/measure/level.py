"""``counterpoise measure level``: how the machine stands, and how far to turn which foot."""

from __future__ import annotations

import json
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import ROW, Numbers, Row, measuring, show
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from counterpoise.bench.level_check import LevelForecast
    from counterpoise.bench.quantity import Quantity

# one reading of an app or a digital level, of a machinist's level, of a vial by eye (estimate)
_USUAL_SD = MappingProxyType({"degrees": 0.05, "mm/m": 1.0, "divisions": 0.2})


class _Given(TypedDict):
    """What the options say; slopes None where they were not measured, in ``unit``."""

    front: Numbers | None
    rear: Numbers | None
    left: Numbers | None
    right: Numbers | None
    unit: str
    vial: float
    sd: float | None
    floating: str
    gap_mm: float
    width_m: float
    depth_m: float
    thread: str
    extension_mm: tuple[float, float, float, float]
    limit_mm: float
    within_deg: float
    within_mm: float


@click.command(
    "level",
    help=(
        "Level and feet. Two numbers in a reading (0.8,-0.4): as the tool shows with its marked "
        "end to the right or rear, then turned end for end; plus where the marked end is high."
    ),
)
@click.option("--front", type=ROW, help="Laid across at the front; right side high is positive.")
@click.option("--rear", type=ROW, help="Laid across at the rear.")
@click.option("--left", type=ROW, help="Laid along at the left; rear high is positive.")
@click.option("--right", type=ROW, help="Laid along at the right.")
# a phone shows degrees, a machinist's level mm on the metre, a vial its own lines
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
# the pitch says how far a turn lifts: coarse threads of ISO 261 (from memory)
@click.option(
    "--thread", type=click.Choice(["M6", "M8", "M10", "M12"]), default="M8", show_default=True
)
@click.option(
    "--out",
    "extension_mm",
    type=Row(count=4),
    default="0,0,0,0",
    show_default=True,
    help="mm each foot stands out (front left, front right, rear left, rear right); "
    "0 never asks one in.",
)
@click.option(
    "--limit", "limit_mm", default=20.0, show_default=True, help="mm a foot may stand out."
)
@click.option(
    "--within-deg", default=0.5, show_default=True, help="Slope that is good enough, degrees."
)
@click.option("--within-mm", default=0.5, show_default=True, help="Gap that is good enough, mm.")
# the second time it is checked whether the turns did what they were said to do
@click.option(
    "--before",
    type=click.Path(exists=True, dir_okay=False),
    help="JSON of the first time, for the check.",
)
@measuring
def level_command(
    before: str | None, as_json: bool, figure: str | None, **given: Unpack[_Given]
) -> None:
    """Slopes in degrees, and how many mm to turn each foot. Raises ReadingError."""
    from counterpoise.bench.feet import PITCH_MM, Feet, Tolerance
    from counterpoise.bench.level import LevelReadings, level
    from counterpoise.bench.level_check import confirm

    rows = (given["front"], given["rear"], given["left"], given["right"])
    front, rear, left, right = (_slope(row, given) for row in rows)
    # a sum where the slope is a difference: what stays when the tool is turned is its own
    own_errors = {
        place: _in_degrees((row[0] + row[1]) / 2, given, len(row))
        for place, row in zip(("front", "rear", "left", "right"), rows, strict=True)
        if row is not None and len(row) > 1
    }
    readings = LevelReadings(
        front,
        rear,
        left,
        right,
        floating=given["floating"],
        gap_mm=given["gap_mm"],
        own_errors=own_errors,
    )
    # a foot can be told how far to turn only where its thread is known
    pitch = PITCH_MM[given["thread"]]
    feet = Feet(given["width_m"], given["depth_m"], pitch, given["extension_mm"], given["limit_mm"])
    tolerance = Tolerance(given["within_deg"], given["within_mm"])
    if before is None:
        show(level(readings, feet, tolerance), as_json=as_json, figure=figure)
    else:
        # levelled before: does the machine stand where the first measurement said it would?
        check = confirm(_forecast(before), readings, feet, tolerance)
        show(check, as_json=as_json, figure=figure, remarks=check.now.remarks)


def _slope(row: Numbers | None, given: _Given) -> Quantity | None:
    """The slope at one place, None where it was not measured. Raises ReadingError."""
    if row is None:
        return None
    if len(row) > 2:
        raise ReadingError(
            f"{len(row)} readings at one place",
            remedy="one, or two with the tool turned end for end",
        )
    # turned end for end the tool's own error changes its sign, so half the difference is free of it
    value = row[0] if len(row) == 1 else (row[0] - row[1]) / 2
    return _in_degrees(value, given, len(row))


def _in_degrees(value: float, given: _Given, count: int) -> Quantity:
    """A mean of so many readings in the unit given. Raises ReadingError."""
    from counterpoise.bench.slopes import from_bubble, from_degrees, from_mm_per_m

    sd = (_USUAL_SD[given["unit"]] if given["sd"] is None else given["sd"]) / count**0.5
    if given["unit"] == "degrees":
        return from_degrees(value, sd)
    if given["unit"] == "mm/m":
        return from_mm_per_m(value, sd)
    return from_bubble(value, given["vial"], sd)


def _forecast(path: str) -> LevelForecast:
    """Read back what the first measurement foresaw. Raises ReadingError for any other file."""
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
