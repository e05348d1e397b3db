"""More of ``counterpoise measure``: springs, counterweights, the bearing and its tones."""

from __future__ import annotations

from typing import TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import ROW, Numbers, measuring, show


class _Springs(TypedDict):
    """Lengths in mm; None or empty where they were not measured."""

    free: float | None
    new_free: float | None
    sag: Numbers


class _Counterweight(TypedDict):
    """Masses in kg, None where it was not taken off; bolts by number."""

    mass_kg: float | None
    nominal_kg: float | None
    loose_bolts: int
    bolts: int
    dust: str


@click.command(
    "springs",
    help="Compare the two springs: length, hooks, and how far they have stretched for good.",
)
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
    **given: Unpack[_Springs],
) -> None:
    """Print lengths and sag in mm of both springs. Raises ReadingError."""
    from counterpoise.bench.suspension import SpringPair, springs

    # side by side, as a pair wears alike: one that differs is the one that is off
    pair = SpringPair(left, right, sd, hooks, given["free"], given["new_free"], given["sag"])
    show(springs(pair), as_json=as_json, figure=figure)


@click.command("counterweight", help="Mass, bolts and dust of one counterweight.")
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
def counterweight_command(
    as_json: bool, figure: str | None, **given: Unpack[_Counterweight]
) -> None:
    """Print what mass in kg is missing or loose. Raises ReadingError."""
    from counterpoise.bench.suspension import WeightReading, counterweight

    show(counterweight(WeightReading(**given)), as_json=as_json, figure=figure)


@click.command("bearing", help="Turn the drum by hand and listen.")
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
    """Print what the turned drum says of the bearing; pulls in N. Raises ReadingError."""
    from counterpoise.bench.bearing import MARKS, TurningReadings, turn_and_listen

    show(
        turn_and_listen(TurningReadings(feel, sound, MARKS[int(rust)], pull_n)),
        as_json=as_json,
        figure=figure,
    )


@click.command(
    "bearing-tones",
    help="Frequencies at which a damaged bearing of this size is heard.",
)
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
    """Print defect frequencies in Hz at a drum speed in rpm. Raises ReadingError."""
    from counterpoise.bench.bearing import SIZES, BearingSize, defect_frequencies
    from counterpoise.errors import ReadingError

    # counted and measured on the bearing itself goes before the table
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


COMMANDS = (springs_command, counterweight_command, bearing_command, tones_command)
