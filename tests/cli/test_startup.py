"""What a command imports: the quick ones must not wait for numbers, drawing, YAML or migrations."""

import importlib.metadata
import json
import os
import subprocess
import sys

import click
import pytest

from counterpoise.cli.job.commands import job
from counterpoise.cli.lazy import Lazy, LazyGroup
from counterpoise.cli.main import main
from counterpoise.workshop.store.store import Store

NUMBERS = {"numpy", "numba", "scipy", "matplotlib"}
SCHEMA = {"pydantic", "ruamel"}
STORE = {"sqlalchemy", "alembic"}
WEB = {"fastapi", "starlette", "uvicorn", "jinja2", "typst"}

CALL = """
import contextlib, io, json, sys
from counterpoise.cli import main
with contextlib.redirect_stdout(io.StringIO()) as said:
    main(sys.argv[1:], standalone_mode=False)
print(json.dumps([said.getvalue(), sorted({name.partition(".")[0] for name in sys.modules})]))
"""


def called(*words):
    """What a command printed, and the top packages it left loaded."""
    # coverage and the like would bring in modules of their own through these
    plain = {key: text for key, text in os.environ.items() if not key.startswith("COV_")}
    answer = subprocess.run(
        [sys.executable, "-c", CALL, *words], capture_output=True, text=True, check=True, env=plain
    )
    said, loaded = json.loads(answer.stdout)
    return said, set(loaded)


@pytest.mark.parametrize("words", [("--help",), ("job", "--help"), ("--version",)])
def test_help_and_version_load_no_library_but_click(words):
    said, loaded = called(*words)
    assert said
    assert "click" in loaded
    assert not loaded & (NUMBERS | SCHEMA | STORE | WEB | {"rich", "PIL"})


def test_the_version_is_that_of_the_installed_program():
    said, _ = called("--version")
    assert said.rstrip().endswith(f"version {importlib.metadata.version('counterpoise')}")


def test_the_version_is_told_as_a_module_too():
    words = [sys.executable, "-m", "counterpoise", "--version"]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    version = importlib.metadata.version("counterpoise")
    assert said == f"python -m counterpoise, version {version}\n"


def test_a_list_of_jobs_loads_the_store_but_neither_numbers_nor_families_nor_migrations(tmp_path):
    Store(tmp_path / "workshop.db").close()
    said, loaded = called("job", "list", "--store", str(tmp_path / "workshop.db"))
    assert said == "No machine is waiting.\n"
    assert "sqlalchemy" in loaded
    assert not loaded & (NUMBERS | SCHEMA | WEB | {"alembic"})


def test_a_store_that_is_not_current_is_migrated_by_the_same_list(tmp_path):
    said, loaded = called("job", "list", "--store", str(tmp_path / "new.db"))
    assert said == "No machine is waiting.\n"
    assert "alembic" in loaded


@pytest.mark.parametrize("group", [main, job], ids=["counterpoise", "job"])
def test_the_list_of_commands_says_what_each_command_says_of_itself(group):
    ctx = click.Context(group)
    for name, lazy in group.lazy.items():
        command = group.get_command(ctx, name)
        assert command.get_short_help_str(1000) == lazy.summary
        assert command.name == name
        assert not command.hidden


def test_a_command_is_imported_once_and_stays_the_same():
    ctx = click.Context(main)
    assert main.get_command(ctx, "yard") is main.get_command(ctx, "yard")
    assert main.get_command(ctx, "yards") is None


def test_a_lazy_group_keeps_commands_that_were_added_to_it_as_usual():
    group = LazyGroup("tools", lazy={"yard": Lazy("yard:yard", "Say which machine to take next.")})
    group.add_command(click.Command("own", help="A command of its own."))
    ctx = click.Context(group)
    assert group.list_commands(ctx) == ["own", "yard"]
    assert group.get_command(ctx, "own").help == "A command of its own."
    assert "A command of its own." in group.get_help(ctx)
    assert "Say which machine to take next." in group.get_help(ctx)


def test_a_mistyped_command_is_refused_with_what_it_may_have_meant():
    with pytest.raises(click.UsageError, match="'yrad'") as refused:
        main(["yrad"], standalone_mode=False)
    assert "yard" in refused.value.format_message()
