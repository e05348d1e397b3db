"""A command that writes, given a key: the same again writes nothing and is answered as before."""

import json

import pytest
from click.testing import CliRunner
from tests.web.workbench import STOCKED, ForeseeableWorkshop

from counterpoise.cli.main import main
from counterpoise.workshop.jobs.entries import Intake
from counterpoise.workshop.store.store import Store


@pytest.fixture
def workshop(tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        opened = ForeseeableWorkshop(store, {"bench": STOCKED})
        opened.jobs.open(Intake("bench", "customer", "Veltro 6", ("shakes",)))
        yield opened


@pytest.fixture
def run(workshop):
    def run(*args):
        done = CliRunner().invoke(main, args, obj=workshop)
        assert done.exception is None or isinstance(done.exception, SystemExit), done.output
        return done.exit_code, done.stdout

    return run


def test_an_entry_is_put_down_once_and_answered_alike(run, workshop):
    command = ("job", "note", "1", "the belt is new", "--key", "n-1", "--json")
    first, second = run(*command), run(*command)
    assert first == second
    assert json.loads(first[1])["entry"] == 2
    assert len(workshop.jobs.get(1).entries) == 2
    status, said = run(*command[:-1])
    assert (status, said) == (
        0, "Written before under this key as entry 2 of job 1; nothing was written now.\n",
    )  # fmt: skip


def test_a_key_is_for_one_thing_alone(run, workshop):
    run("job", "note", "1", "the belt is new", "--key", "n-1")
    status, said = run("job", "note", "1", "the belt is old", "--key", "n-1", "--json")
    assert (status, json.loads(said)["field"]) == (2, "key")
    assert len(workshop.jobs.get(1).entries) == 2
    assert run("job", "note", "1", "x", "--key", "k" * 101)[0] == 2


def test_what_was_refused_may_be_given_again_under_its_key(run, workshop):
    assert run("job", "note", "9", "the belt is new", "--key", "n-1")[0] == 2
    assert workshop.writes.known("n-1") is None
    assert run("job", "note", "1", "the belt is new", "--key", "n-1")[0] == 0


def test_the_shelf_and_the_settings_have_keys_too(run, workshop):
    for command in (
        ("stock", "receive", "bench/pump", "--count", "2", "--key", "s-1", "--json"),
        ("settings", "set", "people=3", "--key", "s-2", "--json"),
    ):
        first, second = run(*command), run(*command)
        assert first == second
        assert first[0] == 0
    (lot,) = workshop.stock.book().lots
    assert lot.pieces == 2
