import itertools
import json

import pytest
from click.testing import CliRunner
from tests.cli.refusals import invoke
from tests.web.workbench import FAMILY, INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.cli import main
from counterpoise.workshop.store.store import Store


@pytest.fixture
def workshop(tmp_path):
    ticks = itertools.count()
    with Store(
        tmp_path / "workshop.db", lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"
    ) as store:
        yield ForeseeableWorkshop(store, {"bench": FAMILY})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(INTAKE, "ada").number


@pytest.fixture
def run(workshop):
    """Runs a command in the workshop: (exit code, what it printed)."""

    def call(*words):
        result = CliRunner().invoke(main, [str(word) for word in words], obj=workshop)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result.exit_code, result.output

    return call


@pytest.fixture
def ask(run):
    """The same with --json, read."""

    def call(*words):
        code, output = run(*words, "--json")
        return code, json.loads(output)

    return call


@pytest.fixture(scope="session")
def untouched(tmp_path_factory):
    """A workshop with a job and two pumps, for commands that are refused and so change nothing."""
    ticks = itertools.count()
    folder = tmp_path_factory.mktemp("untouched")
    with Store(folder / "workshop.db", lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z") as store:
        shop = ForeseeableWorkshop(store, {"bench": STOCKED})
        shop.jobs.open(INTAKE, "ada")
        assert invoke(shop, "stock receive bench/pump --count 2", folder).exit_code == 0
        yield shop
