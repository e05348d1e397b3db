"""Hostile texts and stores that are none: one JSON object, status 2, nothing stored."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

HOSTILE = ["\x00", "'; DROP TABLE jobs; --", "../../etc/passwd", "{{7*7}}", "\u202egnp", "9" * 400]


@pytest.fixture
def entries(workshop, number):
    """How much is stored: entries of the job, jobs, lots, settings."""

    def count():
        return (
            workshop.jobs.get(number).entries,
            [line.number for line in workshop.jobs.lines()],
            workshop.stock.items(),
            workshop.settings(),
        )

    return count


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize(
    "words",
    [
        ("job", "record", "{n}", "{text}", "with_tub"),
        ("job", "record", "{n}", "drum_by_hand", "{text}"),
        ("job", "decide", "{n}", "{text}"),
        ("job", "repair", "{n}", "{text}"),
        ("job", "new", "--family", "{text}"),
        ("stock", "show", "{text}"),
        ("settings", "set", "currency={text}"),
        ("ledger", "{text}"),
    ],
    ids=" ".join,
)
def test_hostile_texts_are_refused_like_any_other(ask, number, entries, words, text):
    before = entries()
    code, told = ask(*(word.replace("{text}", text).replace("{n}", str(number)) for word in words))
    assert code == 2
    assert told["what"]
    assert entries() == before


def test_a_hostile_story_is_kept_and_said_without_its_control_characters(run, ask):
    story = "It said \u202enothing [bold]at all[/bold]"
    code, answer = ask("job", "new", "--family", "bench", "--complaint", "shakes", "--story", story)
    assert code == 0
    code, said = run("job", "show", answer["job"])
    assert code == 0
    assert "\u202e" not in said


def test_a_store_that_cannot_be_made_is_said_in_one_line(tmp_path):
    (tmp_path / "file").write_text("in the way")
    store = str(tmp_path / "file" / "workshop.db")
    answer = CliRunner().invoke(main, ["job", "list", "--store", store, "--json"])
    assert answer.exit_code == 2
    assert "cannot be made" in json.loads(answer.output)["what"]


def test_a_file_that_is_no_store_is_said_in_one_line(tmp_path):
    (tmp_path / "notes.db").write_text("these are my notes, not a database, and longer than a page")
    answer = CliRunner().invoke(
        main, ["job", "list", "--store", str(tmp_path / "notes.db"), "--json"]
    )
    assert answer.exit_code == 2
    assert "another kind of file" in json.loads(answer.output)["what"]
