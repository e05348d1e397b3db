"""The page of commands is what the commands say of themselves, letter for letter."""

from pathlib import Path

import click

from counterpoise.cli.main import main
from counterpoise.cli.reference import commands, reference

PAGE = Path(__file__).parents[2] / "docs" / "commands.md"


def test_the_page_is_up_to_date():
    # where this fails: python -m counterpoise.cli.reference > docs/commands.md
    assert reference(main) == PAGE.read_text("utf-8")


def test_commands_come_sorted_and_groups_are_no_commands():
    names = [name for name, _ in commands(main, "counterpoise")]
    assert names == sorted(names, key=str.split)
    assert "counterpoise job" not in names
    assert "counterpoise job list" in names
    assert len(names) == len(set(names))


def test_every_command_can_say_how_it_is_called():
    for name, command in commands(main, "counterpoise"):
        ctx = click.Context(command, info_name=name)
        text = command.get_help(ctx)
        assert text.startswith(f"Usage: {name}")
        # what users read says what to do, not which errors a function raises
        assert "Raises" not in text, name
        assert "``" not in text, name


def test_every_help_text_ends_its_sentence():
    for name, command in commands(main, "counterpoise"):
        assert command.help.rstrip()[-1] in ".)", name


def test_a_choice_is_written_out_and_a_default_is_said():
    text = reference(main)
    assert "- `--as degrees|mm/m|divisions`:" in text
    assert "Without it: `8642`." in text
