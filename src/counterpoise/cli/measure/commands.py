"""``counterpoise measure``: turn readings taken by hand into numbers, words and advice."""

from __future__ import annotations

import click

from counterpoise.cli.common import family_named
from counterpoise.cli.measure import assemblies, dampers, drum, electrics, level, moving
from counterpoise.cli.measure.readings import FAMILY

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
@click.option(
    "--family", default="", help="Kind of machine, or its file: words, weight, and what fits it."
)
@click.pass_context
def measure(ctx: click.Context, family: str) -> None:
    """Turn readings taken by hand into numbers with their doubt, and advice."""
    if not family or ctx.invoked_subcommand is None:
        return
    # a family takes a moment to load; a reading of which nothing was said needs none
    from counterpoise.report.views.measures.forms import refuse_unfit

    known = family_named(family)
    refuse_unfit(ctx.invoked_subcommand.replace("-", "_"), known)
    ctx.meta[FAMILY] = known
    # of a machine nobody weighed: what its kind usually weighs
    weighs = {"mass_kg": known.typical_mass_kg}
    ctx.default_map = {"lift": weighs, "tip": weighs}


for command in COMMANDS:
    measure.add_command(command)
