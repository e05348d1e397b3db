"""``counterpoise measure lift`` and ``tip``: moving the machine without harm to anybody."""

from __future__ import annotations

from typing import TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import measuring, show


class _Lift(TypedDict):
    """How it is lifted: cm, degrees, lifts a minute, hours."""

    reach_cm: float
    height_cm: float
    travel_cm: float
    twist_deg: float
    grip: str
    per_minute: float
    hours: float


class _Body(TypedDict):
    """The machine as a body to be tipped: kg, and m from the edge that stays on the floor."""

    mass_kg: float
    sd_kg: float
    centre_height_m: float
    centre_from_edge_m: float
    hands_m: float


@click.command("lift", help="How many people, or a trolley (NIOSH lifting equation).")
@click.option("--mass", "mass_kg", default=72.5, show_default=True, help="kg.")
@click.option("--sd", "sd_kg", default=0.0, help="Doubt (sd) of the mass, kg.")
@click.option(
    "--reach", "reach_cm", default=30.0, show_default=True, help="Hands in front of the ankles, cm."
)
@click.option(
    "--height",
    "height_cm",
    default=0.0,
    show_default=True,
    help="Hands above the floor at the start, cm.",
)
@click.option("--up", "travel_cm", default=20.0, show_default=True, help="Way up, cm.")
@click.option(
    "--twist", "twist_deg", default=0.0, show_default=True, help="Twist of the body, degrees."
)
@click.option(
    "--grip", type=click.Choice(["good", "fair", "poor"]), default="fair", show_default=True
)
@click.option("--per-minute", default=0.2, show_default=True, help="Lifts a minute.")
@click.option("--hours", default=1.0, show_default=True, help="For how long, hours.")
@measuring
def lift_command(
    mass_kg: float, sd_kg: float, as_json: bool, figure: str | None, **given: Unpack[_Lift]
) -> None:
    """Print how many people lift so many kg, or that a trolley must. Raises ReadingError."""
    # nobody lifts a machine alone: the answer counts people, or asks for a trolley
    from counterpoise.bench.lifting import Lift, lifting

    show(lifting(mass_kg, Lift(**given), sd_kg=sd_kg), as_json=as_json, figure=figure)


@click.command(
    "tip",
    help=(
        "Tip a machine: the push that starts it, where it falls by itself, what raising it takes."
    ),
)
@click.option("--mass", "mass_kg", default=72.5, show_default=True, help="kg.")
@click.option("--sd", "sd_kg", default=3.0, show_default=True, help="Doubt (sd) of the mass, kg.")
@click.option(
    "--centre-height",
    "centre_height_m",
    default=0.40,
    show_default=True,
    help="Centre of mass above floor, m.",
)
@click.option(
    "--centre",
    "centre_from_edge_m",
    default=0.275,
    show_default=True,
    help="Centre of mass to that edge, m.",
)
@click.option("--hands", "hands_m", default=0.80, show_default=True, help="Height of the hands, m.")
@measuring
def tip_command(as_json: bool, figure: str | None, **given: Unpack[_Body]) -> None:
    """Print the push in N that tips it, and from which angle it falls. Raises ReadingError."""
    # from one angle on it falls by itself: whoever stands there must know it before
    from counterpoise.bench.lifting import TippedMachine, tipping

    show(tipping(TippedMachine(**given)), as_json=as_json, figure=figure)


COMMANDS = (lift_command, tip_command)
