"""``counterpoise settings``: the figures every job is reckoned with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import pairs, workshop_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.services.workshop import Workshop


@click.group()
def settings() -> None:
    """What the workshop charges, what its time costs, what a machine is worth to it."""


@settings.command("show", help="Show the settings.")
@workshop_command
def show(workshop: Workshop, *, in_words: bool) -> Settings:
    """The settings; amounts in minor units under ``--json``."""
    return _shown(workshop.settings(), in_words)


@settings.command(
    "set", help="Change settings, all or none; money in whole units, like labour_rate_minor=48.50."
)
@click.argument("changes", nargs=-1, required=True, metavar="NAME=VALUE...")
@workshop_command
def change(workshop: Workshop, changes: tuple[str, ...], *, in_words: bool) -> Settings:
    """All settings after it. Raises InputError naming the setting; then none is changed."""
    from counterpoise.report.views.settings import read_setting

    # read all before any is changed: a slip in the last must not leave half of them set
    given = {
        name: read_setting(name, text)
        for name, text in pairs(changes, "changes", "labour_rate_minor=48.50").items()
    }
    return _shown(workshop.change_settings(given), in_words)


def _shown(now: Settings, in_words: bool) -> Settings:
    from counterpoise.report.views.settings import GROUPS, LABELS, setting_text

    # in the groups and words of the page, so that one can be found from the other
    for title, names in GROUPS.items() if in_words else ():
        console().print(say(title, "bold"))
        for name in names:
            label = LABELS[name].format(currency=now.currency)
            value = say(f"  {name} = {setting_text(name, getattr(now, name))}")
            console().print(value, say(f"({label})", "dim"))
    return now
