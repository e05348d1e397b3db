"""Every command says what is wrong as JSON where JSON is asked for, whatever is wrong."""

import json

import click
import pytest
from click.testing import CliRunner

from counterpoise.cli.main import main


def commands(group, path=()):
    """Every command that is no group, with its path."""
    for name in group.list_commands(click.Context(group)):
        command = group.get_command(click.Context(group), name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))
        else:
            yield (*path, name), command


COMMANDS = dict(commands(main))
WITH_ARGUMENTS = [
    path for path, command in COMMANDS.items() if any(each.required for each in command.params)
]


def refused(*words):
    """What is printed, as JSON; nothing stands on the error stream and the status is 2."""
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2, result.output
    assert result.stderr == ""
    told = json.loads(result.stdout)
    assert list(told) == ["what", "field", "remedy"]
    assert told["what"]
    assert told["remedy"]
    return told


def test_there_are_commands_to_try():
    assert len(COMMANDS) > 60
    assert {("catalog", "show"), ("lives",), ("job", "record")} <= set(WITH_ARGUMENTS)


@pytest.mark.parametrize("path", COMMANDS, ids=" ".join)
def test_an_option_nobody_knows(path):
    told = refused(*path, "--json", "--no-such-option")
    # commands that answer nothing have no --json either, and say so in the same form
    assert "--no-such-option" in told["what"] or "--json" in told["what"]


@pytest.mark.parametrize("path", WITH_ARGUMENTS, ids=" ".join)
def test_what_is_missing(path):
    told = refused(*path, "--json")
    assert told["field"] or "--json" in told["what"]
    assert " ".join(path) in told["remedy"]


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (("job", "show", "first", "--json"), "number"),
        (("job", "new", "--owner", "nobody", "--json"), "owner"),
        (("lives", "/no/such/file", "--json"), "file"),
        (("plan", "/no/such/file", "--json"), "file"),
        (("worth", "--price", "5", "--age", "old", "--json"), "age"),
        (("measure", "level", "--front", "flat", "--json"), "front"),
        (("job", "nosuch", "--json"), ""),
        (("nosuch", "--json"), ""),
        (("catalog", "show", "nosuch", "--json"), ""),
        (("cases", "nosuch", "--json"), ""),
        (("--json",), ""),
        (("job", "--json"), ""),
    ],
)
def test_what_cannot_be_meant(words, field):
    assert refused(*words)["field"] == field


def test_behind_two_dashes_a_word_is_a_value():
    result = CliRunner().invoke(main, ["cases", "--", "--json"])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "There is no case --json" in result.stderr


def test_without_json_the_command_line_says_it_as_ever():
    result = CliRunner().invoke(main, ["worth", "--price", "5", "--age", "old"])
    assert result.exit_code == 2
    assert "Usage:" in result.stderr
    assert "'old' is not a valid float" in result.stderr
