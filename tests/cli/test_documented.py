from pathlib import Path

import click
import pytest

from counterpoise.cli import main
from counterpoise.cli.reference import commands, options

PAGE = (Path(__file__).parents[2] / "docs" / "commands.md").read_text("utf-8")
SECTIONS = {part.split("`", 1)[0]: part for part in PAGE.split("\n## `")[1:]}
KNOWN = dict(commands(main, "counterpoise"))


@pytest.mark.parametrize("name", sorted(KNOWN))
def test_every_command_and_option_is_documented(name):
    # where this fails: python -m counterpoise.cli.reference > docs/commands.md
    assert name in SECTIONS
    for option in options(KNOWN[name]):
        assert all(f"{call}" in SECTIONS[name] for call in option.opts), option.opts
        assert option.help or isinstance(option.type, click.Choice), (
            f"{option.name} says nothing of itself"
        )
    assert KNOWN[name].help


def test_nothing_is_documented_that_is_not_there():
    assert set(SECTIONS) <= set(KNOWN)
