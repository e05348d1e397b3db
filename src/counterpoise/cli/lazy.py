"""A group that imports a command when it is called: ``--help`` needs no numbers and no database."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Lazy:
    """A command by its place, ``module:name`` below this package, and the start of its help.

    The sentence stands here a second time because reading it from the command would import the
    command; a test holds the two together.
    """

    target: str
    summary: str

    def load(self) -> click.Command:
        """Import the command."""
        # a typo here is found by the test that loads every command
        module, _, name = self.target.partition(":")
        command: click.Command = getattr(import_module(f"counterpoise.cli.{module}"), name)
        return command


class LazyGroup(click.Group):
    """Lists its commands from ``lazy`` and imports each when it is named."""

    def __init__(self, *args: Any, lazy: Mapping[str, Lazy], **attrs: Any) -> None:
        # click hands on what it is given; only the table of commands is ours
        super().__init__(*args, **attrs)
        self.lazy = lazy
        # stand-ins: enough for the list of commands and for guessing what a mistyped name meant
        self._listed = {name: click.Command(name, help=lazy[name].summary) for name in lazy}
        self.commands.update(self._listed)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command itself, imported now; None where there is none of that name."""
        # imported once: after that the command stands in place of its stand-in
        if self.commands.get(cmd_name) is self._listed.get(cmd_name) and cmd_name in self.lazy:
            self.commands[cmd_name] = self.lazy[cmd_name].load()
        return super().get_command(ctx, cmd_name)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands, with none of them imported."""
        click.Group(self.name, commands={**self.commands, **self._listed}).format_commands(
            ctx, formatter
        )
