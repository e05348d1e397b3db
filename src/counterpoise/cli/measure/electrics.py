"""``counterpoise measure windings`` and ``safety``: the meter at the motor and at the plug."""

from __future__ import annotations

from typing import TypedDict, Unpack

import click

from counterpoise.cli.measure.readings import ROW, Numbers, measuring, show


class _Phases(TypedDict):
    """Resistances in ohm (infinite for an open one), and what the meter and its leads add."""

    ohm: Numbers
    temperature_c: float
    leads_ohm: float
    meter_percent: float
    digit_ohm: float
    expected_ohm: float | None


class _Safety(TypedDict):
    """Readings in ohm, megohm and mA, None where not taken; the error of the meter in per cent."""

    earth_ohm: float | None
    insulation_mohm: float | None
    conductor_ma: float | None
    touch_ma: float | None
    meter_percent: float


@click.command("windings", help="Windings at 20 degrees and how alike they are.")
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
def windings_command(as_json: bool, figure: str | None, **given: Unpack[_Phases]) -> None:
    """Print resistances in ohm at 20 degrees, and their balance. Raises ReadingError."""
    # phases of one motor are alike when sound, so they are judged beside each other
    from counterpoise.bench.windings import PhaseReadings, windings

    show(windings(PhaseReadings(**given)), as_json=as_json, figure=figure)


@click.command(
    "safety",
    help=(
        "Electrical safety after a repair against published limits. Local code and licensed "
        "practice decide."
    ),
)
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
def safety_command(
    as_json: bool, figure: str | None, protection_class: int, heater_kw: float, cord_m: float,
    **readings: Unpack[_Safety],
) -> None:  # fmt: skip
    """Earth, insulation and currents (ohm, megohm, mA) held against limits. Raises ReadingError."""
    from counterpoise.bench.safety import Appliance, SafetyReadings, safety

    # the limits go by the appliance: a long cord and a heater are allowed more
    appliance = Appliance(protection_class, heater_kw, cord_m)
    show(safety(SafetyReadings(**readings), appliance), as_json=as_json, figure=figure)


COMMANDS = (windings_command, safety_command)
