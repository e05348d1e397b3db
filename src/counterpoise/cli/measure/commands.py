"""``counterpoise measure``: turn readings taken by hand into numbers, words and advice."""

from __future__ import annotations

import click

from counterpoise.cli.measure import assemblies, dampers, drum, electrics, level, moving

COMMANDS = (
    level.level_command,
    drum.runout_command,
    drum.strike_command,
    drum.play_command,
    dampers.dampers_command,
    dampers.bounce_command,
    *assemblies.COMMANDS,
    *electrics.COMMANDS,
    *moving.COMMANDS,
)


@click.group()
def measure() -> None:
    """Turn readings taken by hand into numbers with their doubt, and advice."""


for command in COMMANDS:
    measure.add_command(command)
