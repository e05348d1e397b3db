"""``counterpoise settings``: the figures every job is reckoned with."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from counterpoise.cli.common import pairs, workshop_command, writing_command
from counterpoise.cli.terminal import console, say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.report.words.family_money import FamilyFigures
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.services.workshop import Workshop


@click.group()
def settings() -> None:
    """What the workshop charges, what its time costs, what a machine is worth to it."""


@settings.command("show", help="Show the settings, or what holds for the machines of a family.")
@click.option("--family", default="", help="Show what its machines are worth, and where from.")
@workshop_command
def show(workshop: Workshop, *, in_words: bool, family: str) -> Settings | FamilyFigures:
    """The settings, or the figures of a family; amounts in minor units under ``--json``."""
    from counterpoise.report.words.family_money import family_figures

    now = workshop.settings()
    if family:
        figures = family_figures(workshop.family(family), now)
        _of_family(figures, in_words)
        return figures
    _shown(now, in_words)
    for each in workshop.families.values() if in_words else ():
        _of_family(family_figures(each, now), in_words)
    return now


@settings.command(
    "set",
    help=(
        "Change settings, all or none; money in whole units, like labour_rate_minor=48.50. What a "
        "machine is worth and how long it lives is set by family: FAMILY.scrap_minor=-12."
    ),
)
@click.argument("changes", nargs=-1, required=True, metavar="NAME=VALUE...")
@writing_command
def change(workshop: Workshop, changes: tuple[str, ...], *, in_words: bool) -> Settings:
    """All settings after it. Raises InputError naming the setting; then none is changed."""
    from counterpoise.report.views.settings import read_setting

    # read all before any is changed: a slip in the last must not leave half of them set
    given = {
        name: read_setting(name, text)
        for name, text in pairs(changes, "changes", "labour_rate_minor=48.50").items()
    }
    now = _shown(workshop.change_settings(given), in_words)
    if in_words:
        _remind(workshop, given)
    return now


@settings.command("unset", help="Go back to the family's own figures.")
@click.argument("names", nargs=-1, required=True, metavar="FAMILY.NAME...")
@writing_command
def take_back(workshop: Workshop, names: tuple[str, ...], *, in_words: bool) -> Settings:
    """All settings after it. Raises InputError naming one that is of no family."""
    from counterpoise.errors import InputError
    from counterpoise.workshop.jobs.settings import split_key

    for name in names:
        # the workshop's own settings have no figure behind them to go back to
        if not split_key(name)[0]:
            raise InputError(
                f"{name}: only what was set for a family can be taken back",
                field=name,
                remedy=f"Write it like FAMILY.{name}, or set {name} to what it should be.",
            )
    return _shown(workshop.change_settings(dict.fromkeys(names)), in_words)


def _remind(workshop: Workshop, given: Mapping[str, object]) -> None:
    """Say of a figure set for every kind alike which kinds it does not reach."""
    from counterpoise.workshop.jobs.family_money import figures_of
    from counterpoise.workshop.jobs.settings import BY_FAMILY, family_key

    now = workshop.settings()
    for name in [name for name in given if name in BY_FAMILY]:
        own = [
            family.id
            for family in workshop.families.values()
            if any(f.name == name and f.origin != "general" for f in figures_of(family, now))
        ]
        if own:
            text = f"{name} changes nothing for {', '.join(own)}: there a figure of the family "
            text += f"goes before it. To change that one, set {family_key(own[0], name)}."
            console().print(say(text, "bold"))


def _of_family(shown: FamilyFigures, in_words: bool) -> None:
    from counterpoise.report.views.settings import setting_text
    from counterpoise.workshop.jobs.settings import family_key

    if not in_words:
        return
    console().print(say(shown.title, "bold"))
    for figure in shown.figures:
        # what is set here is written as it can be set again
        sign = " = " if figure.origin == "workshop" else ": "
        key = family_key(shown.family, figure.name)
        value = say(f"  {key}{sign}{setting_text(figure.name, figure.value)}")
        console().print(value, say(f"({figure.where})", "dim"))
    if shown.assumed:
        console().print(say(f"  {shown.assumed}", "dim"))


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
