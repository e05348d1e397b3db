"""Writes docs/commands.md from the commands: ``python -m counterpoise.cli.reference``."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import click

_HEAD = """# Commands

`counterpoise COMMAND --help` says the same in the terminal. Every command takes `--json`. Wrong
input is told in one line, names the field, says what to do, changes nothing, and exits with 2; with
`--json` it is `{"what", "field", "remedy"}`. `counterpoise --version` prints the version.

The commands of the workshop take `--store PATH`, or the environment variable `COUNTERPOISE_STORE`:
a file (SQLite; made where there is none) or a database URL. Money is typed in whole units with
cents (`48.50`), and leaves as JSON in cents (`4850`), as the names that end in `_minor` say.

A job from beginning to end:

```
counterpoise job new --complaint shakes --complaint walks --age 6 --feature drive=belt
counterpoise job next 1
counterpoise job record 1 drum_by_hand with_tub --minutes 1
counterpoise job record 1 measure_damper_push --reading 8
counterpoise job decide 1 repair_resell --why "dampers only"
counterpoise job repair 1 replace_dampers --minutes 35
counterpoise job proof 1 --passed
counterpoise job close 1 repair_resell --fault damper_worn:gone --received 155
counterpoise job sheet 1 --pdf job-1.pdf
```

This page is written by `python -m counterpoise.cli.reference > docs/commands.md`.
"""


def commands(command: click.Command, name: str) -> Iterator[tuple[str, click.Command]]:
    """Every command that can be run with the words that call it, sorted by name."""
    if isinstance(command, click.Group):
        # a group of commands lists its own; the names are the words that call them
        ctx = click.Context(command)
        for part in sorted(command.list_commands(ctx)):
            # asked for one by one: the group imports a command only when it is named
            child = command.get_command(ctx, part)
            if child is not None:
                yield from commands(child, f"{name} {part}")
    else:
        yield name, command


def options(command: click.Command) -> list[click.Option]:
    """The options of a command; ``--help``, which every command has, is none of its own."""
    return [param for param in command.params if isinstance(param, click.Option)]


def reference(main: click.Command) -> str:
    """All commands and options as Markdown, in the order in which they are listed."""
    return "\n".join(
        [_HEAD, *(_section(name, command) for name, command in commands(main, "counterpoise"))]
    )


def _section(name: str, command: click.Command) -> str:
    arguments = [
        param.make_metavar(click.Context(command))
        for param in command.params
        if isinstance(param, click.Argument)
    ]
    head = [
        f"## `{name}`",
        "",
        f"`{' '.join([name, *arguments])}`",
        "",
        (command.help or "").strip(),
        "",
    ]
    # options after the text, as in --help
    rows = [f"- `{_call(option)}`: {_help(option)}" for option in options(command)]
    return "\n".join([*head, *rows, ""])


def _call(option: click.Option) -> str:
    names = ", ".join([*option.opts, *option.secondary_opts])
    # a flag takes no value to be named
    if option.is_flag:
        return names
    # the words that can be typed say more than the name of their type
    choices = option.type.choices if isinstance(option.type, click.Choice) else None
    shown = (
        "|".join(str(choice) for choice in choices)
        if choices
        else option.metavar or option.type.name.upper()
    )
    return f"{names} {shown}"


def _help(option: click.Option) -> str:
    default = option.default
    # an empty default says nothing, and one that is no plain value cannot be typed
    shown = option.show_default and isinstance(default, str | int | float) and default != ""
    return f"{option.help or ''}{f' Without it: `{default}`.' if shown else ''}"


if __name__ == "__main__":
    from counterpoise.cli.main import main

    sys.stdout.write(reference(main))
