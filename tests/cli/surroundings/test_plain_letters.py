"""A terminal that knows no letters but ASCII gets plain ones, and JSON loses nothing."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from tests.workshop.small import INTAKE

from counterpoise.workshop.store.store import Store

TITLE = "Zoë’s “Größe” – 5 € × 2 °C → 洗"


@pytest.fixture(scope="module")
def where(tmp_path_factory):
    path = tmp_path_factory.mktemp("letters") / "workshop.db"
    with Store(path) as store:
        store.jobs.open(replace(INTAKE, title=TITLE, family="front_loader", complaints=()))
    return str(path)


def _said(where, *options, encoding="ascii"):
    command = [sys.executable, "-m", "counterpoise", *options, "--store", where]
    surroundings = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    done = subprocess.run(command, capture_output=True, check=False, env=surroundings)
    assert b"Traceback" not in done.stderr
    return done


def test_words_are_written_plainly(where):
    done = _said(where, "job", "list")
    assert done.returncode == 0
    assert b"""Zoe's "Grosse" - 5 EUR x 2  degC -> ?""" in done.stdout


def test_an_error_is_written_plainly(where):
    done = _said(where, "job", "record", "1", "–", "€")
    assert done.returncode == 2
    done.stderr.decode("ascii")


def test_json_loses_nothing(where):
    done = _said(where, "export", "1", "--json")
    assert json.loads(done.stdout.decode("ascii"))["entries"][0]["body"]["title"] == TITLE


def test_a_terminal_of_western_letters_keeps_those_it_knows(where):
    done = _said(where, "job", "list", encoding="latin-1")
    assert 'Zoë\'s "Größe" - 5 EUR × 2 °C -> ?' in done.stdout.decode("latin-1")
