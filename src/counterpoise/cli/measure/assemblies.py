"""More of ``counterpoise measure``: springs, weights, bearing, windings, safety, lifting and tipping."""

from __future__ import annotations

from typing import Any

import click

from counterpoise.cli.common import JsonErrors
from counterpoise.cli.measure.readings import ROW, measuring, show

Numbers = tuple[float, ...]


@click.command("springs", cls=JsonErrors)
@click.option(
    "--left", type=ROW, required=True, help="Hanging length hook to hook, mm; repeats with commas."
)
@click.option("--right", type=ROW, required=True, help="The same on the right.")
@click.option(
    "--hooks",
    type=(str, str),
    default=("sound", "sound"),
    help="Left and right: sound, worn, cracked, off.",
)
@click.option("--free", type=float, help="Unloaded length of one that is off, mm ...")
@click.option("--new-free", type=float, help="... and of a new one, mm.")
@click.option(
    "--sag", type=ROW, default=(), help="Middle of the empty drum below that of the door ring, mm."
)
@click.option("--sd", default=1.0, show_default=True, help="Doubt (sd) of one length, mm.")
@measuring
def springs_command(
    left: Numbers,
    right: Numbers,
    hooks: tuple[str, str],
    sd: float,
    as_json: bool,
    figure: str | None,
    **given: Any,
) -> None:
    """Compare the two springs: length, hooks, and how far they have stretched for good."""
    from counterpoise.bench.suspension import SpringPair, springs

    pair = SpringPair(left, right, sd, hooks, given["free"], given["new_free"], given["sag"])
    show(springs(pair), as_json=as_json, figure=figure)


@click.command("counterweight", cls=JsonErrors)
@click.option(
    "--mass", "mass_kg", type=float, help="On the scale, kg; leave out if it was not taken off."
)
@click.option("--nominal", "nominal_kg", type=float, help="Stamped or usual mass, kg.")
@click.option("--loose", "loose_bolts", default=0, help="Loose bolts.")
@click.option("--bolts", default=2, show_default=True, help="All its bolts.")
@click.option(
    "--dust", type=click.Choice(["none", "some", "heap"]), default="none", show_default=True
)
@measuring
def counterweight_command(as_json: bool, figure: str | None, **given: Any) -> None:
    """Mass, bolts and dust of one counterweight."""
    from counterpoise.bench.suspension import WeightReading, counterweight

    show(counterweight(WeightReading(**given)), as_json=as_json, figure=figure)


@click.command("bearing", cls=JsonErrors)
@click.option(
    "--feel", type=click.Choice(["free", "tight", "rough"]), default="free", show_default=True
)
@click.option(
    "--sound",
    type=click.Choice(["quiet", "hum", "rumble", "grinding"]),
    default="quiet",
    show_default=True,
)
@click.option("--rust", is_flag=True, help="Rust or grease runs down below the seal.")
@click.option(
    "--pull", "pull_n", type=ROW, default=(), help="Pull at the rim that keeps it turning, N."
)
@measuring
def bearing_command(
    feel: str, sound: str, rust: bool, pull_n: Numbers, as_json: bool, figure: str | None
) -> None:
    """Turn the drum by hand and listen."""
    from counterpoise.bench.bearing import MARKS, TurningReadings, turn_and_listen

    show(
        turn_and_listen(TurningReadings(feel, sound, MARKS[int(rust)], pull_n)),
        as_json=as_json,
        figure=figure,
    )


@click.command("bearing-tones", cls=JsonErrors)
@click.option("--size", help="A size of the table, e.g. 6205.")
@click.option(
    "--balls",
    type=(int, float, float),
    metavar="N BALL PITCH",
    help="Own: balls, ball mm, pitch circle mm.",
)
@click.option("--rpm", "speed_rpm", type=float, required=True, help="Drum speed.")
@measuring
def tones_command(
    size: str | None,
    balls: tuple[int, float, float] | None,
    speed_rpm: float,
    as_json: bool,
    figure: str | None,
) -> None:
    """Frequencies at which a damaged bearing of this size is heard."""
    from counterpoise.bench.bearing import SIZES, BearingSize, defect_frequencies
    from counterpoise.errors import ReadingError

    if balls is not None:
        bearing = BearingSize("bearing", *balls, source="as given", relative_sd=0.01)
    elif size in SIZES:
        bearing = SIZES[size]
    else:
        raise ReadingError(
            f"no size {size}",
            field="size",
            remedy=f"one of {', '.join(SIZES)}, or give --balls N BALL PITCH",
        )
    show(defect_frequencies(bearing, speed_rpm), as_json=as_json, figure=figure)


@click.command("windings", cls=JsonErrors)
@click.option(
    "--ohm", type=ROW, required=True, help="Resistances with commas; open for an open one."
)
@click.option(
    "--at",
    "temperature_c",
    default=20.0,
    show_default=True,
    help="Temperature of the motor, degrees C.",
)
@click.option(
    "--leads",
    "leads_ohm",
    default=0.0,
    show_default=True,
    help="What the meter shows with its tips together.",
)
@click.option(
    "--meter-percent", default=0.5, show_default=True, help="The meter's error, per cent."
)
@click.option(
    "--digit",
    "digit_ohm",
    default=0.05,
    show_default=True,
    help="The meter's last-digit error, ohm.",
)
@click.option("--expected", "expected_ohm", type=float, help="At 20 degrees, from the data sheet.")
@measuring
def windings_command(as_json: bool, figure: str | None, **given: Any) -> None:
    """Windings at 20 degrees and how alike they are."""
    from counterpoise.bench.windings import PhaseReadings, windings

    show(windings(PhaseReadings(**given)), as_json=as_json, figure=figure)


@click.command("safety", cls=JsonErrors)
@click.option("--earth", "earth_ohm", type=float, help="Protective earth, ohm.")
@click.option("--insulation", "insulation_mohm", type=float, help="Insulation, Mohm.")
@click.option("--conductor", "conductor_ma", type=float, help="Protective conductor current, mA.")
@click.option("--touch", "touch_ma", type=float, help="Touch current, mA.")
@click.option(
    "--class",
    "protection_class",
    default=1,
    show_default=True,
    help="1 earthed, 2 double insulated.",
)
@click.option("--heater", "heater_kw", default=2.0, show_default=True, help="Heater, kW.")
@click.option("--cord", "cord_m", default=1.5, show_default=True, help="Cord, m.")
@click.option(
    "--meter-percent", default=5.0, show_default=True, help="The meter's error, per cent."
)
@measuring
def safety_command(as_json: bool, figure: str | None, **given: Any) -> None:
    """Electrical safety after a repair against published limits. Local code and licensed practice decide."""
    from counterpoise.bench.safety import Appliance, SafetyReadings, safety

    readings = {
        name: given[name] for name in ("earth_ohm", "insulation_mohm", "conductor_ma", "touch_ma")
    }
    appliance = Appliance(given["protection_class"], given["heater_kw"], given["cord_m"])
    found = safety(SafetyReadings(**readings, meter_percent=given["meter_percent"]), appliance)
    show(found, as_json=as_json, figure=figure)


@click.command("lift", cls=JsonErrors)
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
    mass_kg: float, sd_kg: float, as_json: bool, figure: str | None, **given: Any
) -> None:
    """How many people, or a trolley (NIOSH lifting equation)."""
    from counterpoise.bench.lifting import Lift, lifting

    show(lifting(mass_kg, Lift(**given), sd_kg=sd_kg), as_json=as_json, figure=figure)


@click.command("tip", cls=JsonErrors)
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
def tip_command(as_json: bool, figure: str | None, **given: Any) -> None:
    """Tip a machine: the push that starts it, where it falls by itself, what raising it takes."""
    from counterpoise.bench.lifting import TippedMachine, tipping

    show(tipping(TippedMachine(**given)), as_json=as_json, figure=figure)


COMMANDS = (
    springs_command,
    counterweight_command,
    bearing_command,
    tones_command,
    windings_command,
    safety_command,
    lift_command,
    tip_command,
)
