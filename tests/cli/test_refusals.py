"""Wrong input to the commands of a workshop: one line or one JSON object, status 2, nothing stored."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.cli import main

HOSTILE = ["\x00", "'; DROP TABLE jobs; --", "../../etc/passwd", "{{7*7}}", "\u202egnp", "9" * 400]

REFUSED = [
    (("job", "show", "99"), ""),
    (("job", "next", "{n}", "--pick", "check:no_such"), ""),
    (("job", "next", "{n}", "--pick", "nonsense"), ""),
    (("job", "record", "{n}", "drum_by_hand"), "outcome"),
    (("job", "record", "{n}", "drum_by_hand", "perhaps"), "outcome"),
    (("job", "record", "{n}", "no_such", "with_tub"), "check"),
    (("job", "record", "{n}", "drum_by_hand", "with_tub", "--minutes", "-1"), "minutes"),
    (("job", "record", "{n}", "play", "--reading", "900"), "reading"),
    (("job", "repair", "{n}", "no_such"), "repair"),
    (("job", "repair", "{n}", "replace_dampers", "--from-shelf", "two"), "from_shelf"),
    (("job", "repair", "{n}", "replace_dampers", "--from-shelf", "1:x"), "from_shelf"),
    (("job", "decide", "{n}", "burn_it"), "option"),
    (("job", "decide", "{n}", "scrap", "--agreed", "much"), "agreed"),
    (("job", "decide", "{n}", "scrap", "--agreed", "-5"), "agreed"),
    (("job", "close", "{n}", "scrap", "--received", "1.234"), "received"),
    (("job", "close", "{n}", "scrap", "--fault", "no_such"), "faults"),
    (("job", "retract", "{n}", "99"), ""),
    (("job", "came-back", "{n}"), ""),
    (("job", "note", "{n}", "due", "--parts-due", "tomorrow"), "parts_due"),
    (("job", "new", "--complaint", "no_such"), "family"),
    (("job", "new", "--family", "bench", "--complaint", "no_such"), "complaints"),
    (("job", "new", "--family", "bench", "--feature", "drive"), "feature"),
    (("job", "new", "--family", "bench", "--paid", "free"), "paid"),
    (("job", "estimate", "{n}", "--part", "pump"), "part"),
    (("job", "quote", "{n}", "--agreed-by", "the owner"), "answer"),
    (("job", "machine", "{n}", "--set", "dampers=many"), "dampers"),
    (("job", "fit", "{n}"), "recording"),
    (("stock", "show", "bench/no_such"), ""),
    (("stock", "count", "99", "3"), ""),
    (("stock", "shelve", "{n}", "dampers=few"), "pieces"),
    (("stock", "receive", "bench/no_such"), "item"),
    (("prices", "take-back", "99"), ""),
    (("prices", "check", "no-such-file.csv", "--supplier", "Hollow"), "file"),
    (("settings", "set", "labour_rate_minor=dear"), "labour_rate_minor"),
    (("settings", "set", "no_such=1"), "no_such"),
    (("settings", "set", "labour_rate_minor"), "changes"),
    (("ledger", "July"), "month"),
    (("guarantee", "--family", "no_such"), "family"),
    (("guarantee", "--family", "bench", "--price", "cheap"), "price"),
    (("export", "99"), ""),
    (("import", "no-such-file.json"), "file"),
]


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


@pytest.mark.parametrize(("words", "field"), REFUSED, ids=[" ".join(w) for w, _ in REFUSED])
def test_a_mistake_is_told_with_its_field_and_stores_nothing(ask, number, entries, words, field):
    before = entries()
    code, told = ask(*(word.format(n=number) for word in words))
    assert code == 2
    assert set(told) == {"what", "field", "remedy"}
    assert told["field"] == field
    assert told["what"]
    assert entries() == before


@pytest.mark.parametrize("words", [words for words, _ in REFUSED[::6]], ids=" ".join)
def test_in_words_the_same_mistake_is_one_line_on_stderr(workshop, number, words):
    line = [word.format(n=number) for word in words]
    answer = CliRunner().invoke(main, line, obj=workshop)
    assert answer.exit_code == 2
    assert answer.stdout == ""
    assert answer.stderr.startswith("Error: ")
    assert "Traceback" not in answer.stderr


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
    assert "store of this program" in json.loads(answer.output)["what"]
