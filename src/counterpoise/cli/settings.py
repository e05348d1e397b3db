"""``counterpoise settings``: the figures every job is reckoned with."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from counterpoise.cli.common import pairs, workshop_command

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@click.group()
def settings() -> None:
    """What the workshop charges, what its time costs, what a machine is worth to it."""


@settings.command("show")
@workshop_command
def show(workshop: Workshop, *, tell: bool) -> Any:
    """Show the settings."""
    return _told(workshop.settings(), tell)


@settings.command("set")
@click.argument("changes", nargs=-1, required=True, metavar="NAME=VALUE...")
@workshop_command
def change(workshop: Workshop, changes: tuple[str, ...], *, tell: bool) -> Any:
    """Change settings, all or none; money in whole units, like labour_rate_minor=48.50."""
    from counterpoise.report.views.settings import read_setting

    given = pairs(changes, "changes")
    return _told(
        workshop.change_settings({name: read_setting(name, text) for name, text in given.items()}),
        tell,
    )


def _told(now: Any, tell: bool) -> Any:
    from counterpoise.cli.job.show import console, say
    from counterpoise.report.views.settings import GROUPS, LABELS, setting_text

    for title, names in GROUPS.items() if tell else ():
        console().print(say(title, "bold"))
        for name in names:
            label = LABELS[name].format(currency=now.currency)
            console().print(
                say(f"  {name} = {setting_text(name, getattr(now, name))}"),
                say(f"({label})", "dim"),
            )
    return now
