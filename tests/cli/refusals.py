"""A command line refused: what it must say, and that it leaves nothing behind."""

import json
import shlex
from pathlib import Path

from click.testing import CliRunner, Result

from counterpoise.cli.main import main
from counterpoise.workshop.services.workshop import Workshop


def invoke(workshop: Workshop | None, line: str, folder: Path, *more: str) -> Result:
    """Run a command line; ``@`` in it stands for the folder of the test."""
    words = [word.replace("@", str(folder)) for word in shlex.split(line)]
    result = CliRunner().invoke(main, [*words, *more], obj=workshop)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def contents(workshop: Workshop) -> dict[str, object]:
    """All that is kept, to be compared with what is kept later."""
    return {
        "jobs": {line.number: workshop.jobs.export(line.number) for line in workshop.jobs.lines()},
        "shelf": workshop.stock.book(),
        "prices": workshop.prices.book(),
        "settings": workshop.settings(),
    }


def refused_by_the_program(workshop: Workshop, line: str, folder: Path) -> str:
    """The one line on the error stream of a refused command; nothing was stored or printed."""
    before, files = contents(workshop), sorted(folder.rglob("*"))
    result = invoke(workshop, line, folder)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("Error: ")
    assert len(result.stderr.splitlines()) == 1
    assert contents(workshop) == before
    assert sorted(folder.rglob("*")) == files
    return result.stderr


def refused_as_json(workshop: Workshop, line: str, folder: Path) -> dict[str, str]:
    """The same under ``--json``: an object of three texts, and nothing on the error stream."""
    before = contents(workshop)
    result = invoke(workshop, line, folder, "--json")
    assert result.exit_code == 2, result.output
    assert result.stderr == ""
    problem = json.loads(result.stdout)
    assert list(problem) == ["what", "field", "remedy"]
    assert problem["what"]
    assert contents(workshop) == before
    return problem


def refused_by_the_command_line(workshop: Workshop, line: str, folder: Path) -> str:
    """What is said of words that are no command line: usage, where to read on, what is wrong."""
    before, files = contents(workshop), sorted(folder.rglob("*"))
    result = invoke(workshop, line, folder)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    usage, remedy, *_, problem = result.stderr.splitlines()
    assert usage.startswith("Usage: ")
    assert remedy.endswith("--help' for help.")
    assert problem.startswith("Error: ")
    assert contents(workshop) == before
    assert sorted(folder.rglob("*")) == files
    return problem
