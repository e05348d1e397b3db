"""``counterpoise measure runout``, ``strike``, ``play``: the drum and its bearings by the rim."""

from __future__ import annotations

from typing import TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import ROW, Gaps, Numbers, Row, measuring, show

_PLAY_SD_MM = 0.2  # one reading of play by feel against a rule (estimate)


class _Wiggle(TypedDict):
    """What the options of ``play`` say: travels of the rim in mm, the shaft in m."""

    radial: Numbers
    axial: Numbers
    rocking: Numbers
    round_mm: Numbers
    sd: float
    bearing_distance_m: float
    overhang_m: float
    rim_diameter_m: float


@click.command("runout", help="Runout, oval and tilt of the drum from gaps round the rim.")
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
# turned: what runs out is the drum; walked: what is seen is where the drum hangs in the tub
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
    gaps: Gaps, inner: Gaps | None, depth_mm: float, way: str, sd: float,
    as_json: bool, figure: str | None,
) -> None:  # fmt: skip
    """Print runout, oval and tilt of the drum in mm. Raises ReadingError."""
    from counterpoise.bench.runout import Rim, runout

    # one row tells runout; tilt takes a second one further in
    back = None if inner is None else Rim(inner, sd)
    show(runout(Rim(gaps, sd), back, depth_mm=depth_mm, way=way), as_json=as_json, figure=figure)


@click.command("strike", help="Whether the drum will touch the tub in a spin.")
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
    walked: Gaps, turned: Gaps | None, play_mm: float, sd: float, as_json: bool, figure: str | None
) -> None:
    """Print the chance that the drum touches the tub; gaps in mm. Raises ReadingError."""
    from counterpoise.bench.readings import PLAY_MM, possible
    from counterpoise.bench.runout import Rim, runout, strike

    # asked before anything is reckoned: a slip here would be taken for a drum that is all over
    possible(play_mm, PLAY_MM, "play_mm")
    # the drum's own runout goes with it in a spin, so it is taken off the gaps
    own = None if turned is None else runout(Rim(turned, sd))
    measured = runout(Rim(walked, sd), way="walked")
    result = strike(measured, turned=own, play_mm=(play_mm, _PLAY_SD_MM))
    show(result, as_json=as_json, figure=figure)


@click.command("play", help="Play of the drum by wiggling.")
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
def play_command(as_json: bool, figure: str | None, **given: Unpack[_Wiggle]) -> None:
    """Print radial, axial and rocking play in mm. Raises ReadingError."""
    from counterpoise.bench.play import PlayReadings, Shaft, play

    # play at the rim is play in the bearings times a lever, and the lever is the shaft
    shaft = Shaft(given["bearing_distance_m"], given["overhang_m"], given["rim_diameter_m"])
    wiggle = PlayReadings(
        given["radial"], given["axial"], given["rocking"], given["round_mm"], given["sd"]
    )
    show(play(wiggle, shaft), as_json=as_json, figure=figure)
