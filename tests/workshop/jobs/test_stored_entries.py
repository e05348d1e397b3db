"""Entries as version 0.1.0 stored them are read and written alike; its words of mistakes still stand."""

import json
from pathlib import Path

import pytest

from counterpoise.errors import InputError
from counterpoise.workshop.jobs.entries import KINDS, Decision, Figures, Finding, Intake
from counterpoise.workshop.jobs.entry_json import body_from_json, body_to_json, kind_of

# Written by version 0.1.0: every kind of entry, with little and with all that it can hold.
STORED = json.loads((Path(__file__).parent / "files" / "entries_0_1_0.json").read_text("utf-8"))
# (what stands there, what is said of it behind the path, the field behind the path, the remedy)
MISTAKES = [
    (None, ": a set of fields is expected, not nothing", "", ""),
    ([], ": a set of fields is expected, not a list", "", ""),
    ("x", ": a set of fields is expected, not a text", "", ""),
    ({}, ".kind: None is no kind of entry", ".kind", "Did you mean note?"),
    (
        {"kind": 7},
        ".kind: 7 is no kind of entry",
        ".kind",
        "Known are intake, finding, repair, proof, decision, closed, note, figures, retraction",
    ),
    ({"kind": "fnding"}, ".kind: 'fnding' is no kind of entry", ".kind", "Did you mean finding?"),
    ({"kind": "finding"}, ".check: is missing", ".check", "A finding needs check, outcome"),
    (
        {"kind": "finding", "check": "play"},
        ".outcome: is missing",
        ".outcome",
        "A finding needs outcome",
    ),
    (
        {"kind": "finding", "check": 3, "outcome": "a"},
        ".check: a text is expected, not a number",
        ".check",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "colour": 1},
        ".colour: is not a field of this entry",
        ".colour",
        (
            "Known are check, outcome, reading, reading_sd, weights, minutes, note, photos, recording,"
            " acknowledged"
        ),
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "reading": "2"},
        ".reading: a number is expected, not a text",
        ".reading",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "reading": True},
        ".reading: a number is expected, not yes or no",
        ".reading",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "reading": 10000000000000.0},
        ".reading: 10000000000000.0 is not a number that can be meant",
        ".reading",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "weights": [0.5, "x"]},
        ".weights[1]: a number is expected, not a text",
        ".weights[1]",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "weights": 0.5},
        ".weights: a list is expected, not a number",
        ".weights",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "photos": [1]},
        ".photos[0]: a text is expected, not a number",
        ".photos[0]",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "photos": "abc"},
        ".photos: a list is expected, not a text",
        ".photos",
        "",
    ),
    (
        {"kind": "finding", "check": "play", "outcome": "a", "note": None},
        ".note: a text is expected, not nothing",
        ".note",
        "",
    ),
    (
        {"kind": "finding", "check": "x" * 10_001, "outcome": "a"},
        ".check: 10001 characters are too many",
        ".check",
        "Keep it under 10000",
    ),
    (
        {"kind": "finding", "check": "a\x00", "outcome": "a"},
        ".check: holds characters that cannot be stored",
        ".check",
        "Type it anew",
    ),
    (
        {"kind": "finding", "check": "\ud800", "outcome": "a"},
        ".check: holds characters that cannot be stored",
        ".check",
        "Type it anew",
    ),
    (
        {"kind": "intake", "family": "f", "owner": "me", "title": "t", "complaints": []},
        ".owner: 'me' is no owner",
        ".owner",
        'Give "customer" or "workshop"',
    ),
    (
        {
            "kind": "intake",
            "family": "f",
            "owner": "customer",
            "title": "t",
            "complaints": [],
            "paid_minor": 1.5,
        },
        ".paid_minor: 1.5 is not a whole number",
        ".paid_minor",
        "Money is given in cents",
    ),
    (
        {
            "kind": "intake",
            "family": "f",
            "owner": "customer",
            "title": "t",
            "complaints": [],
            "features": [],
        },
        ".features: a set of fields is expected, not a list",
        ".features",
        "",
    ),
    (
        {
            "kind": "intake",
            "family": "f",
            "owner": "customer",
            "title": "t",
            "complaints": [],
            "features": {"drive": 1},
        },
        ".features.drive: a text is expected, not a number",
        ".features.drive",
        "",
    ),
    (
        {
            "kind": "intake",
            "family": "f",
            "owner": "customer",
            "title": "t",
            "complaints": [],
            "away": 1,
        },
        ".away: yes or no is expected, not a number",
        ".away",
        "",
    ),
    (
        {"kind": "intake", "family": "f", "owner": "customer", "title": "t"},
        ".complaints: is missing",
        ".complaints",
        "A intake needs complaints",
    ),
    (
        {"kind": "intake"},
        ".family: is missing",
        ".family",
        "A intake needs family, owner, title, complaints",
    ),
    (
        {"kind": "proof", "passed": "yes"},
        ".passed: yes or no is expected, not a text",
        ".passed",
        "",
    ),
    ({"kind": "proof"}, ".passed: is missing", ".passed", "A proof needs passed"),
    (
        {"kind": "figures", "values": {"a": "b"}},
        ".values.a: a number is expected, not a text",
        ".values.a",
        "",
    ),
    (
        {"kind": "figures", "values": {"a": 1}, "how": "guessed"},
        ".how: 'guessed' is no way to know it",
        ".how",
        "One of told, plate, counted, measured, fitted",
    ),
    (
        {"kind": "figures", "values": 3},
        ".values: a set of fields is expected, not a number",
        ".values",
        "",
    ),
    (
        {"kind": "retraction", "entry": 1.5},
        ".entry: 1.5 is not a whole number",
        ".entry",
        "Money is given in cents",
    ),
    (
        {"kind": "retraction", "entry": "1"},
        ".entry: a number is expected, not a text",
        ".entry",
        "",
    ),
    (
        {"kind": "retraction", "entry": True},
        ".entry: a number is expected, not yes or no",
        ".entry",
        "",
    ),
    (
        {"kind": "decision", "option": "scrap", "told": "x"},
        ".told: a list is expected, not a text",
        ".told",
        "",
    ),
    (
        {"kind": "decision", "option": "scrap", "quote_words": ["x"]},
        ".quote_words: is not a field of this entry",
        ".quote_words",
        "Did you mean quoted_minor?",
    ),
    (
        {"kind": "closed", "ending": "scrap", "terms": {"tax_percent": None}},
        ".terms.tax_percent: a number is expected, not nothing",
        ".terms.tax_percent",
        "",
    ),
    (
        {"kind": "closed", "ending": "scrap", "received_minor": {}},
        ".received_minor: a number is expected, not a set of fields",
        ".received_minor",
        "",
    ),
]


@pytest.mark.parametrize("stored", STORED, ids=lambda stored: stored["kind"])
def test_an_old_entry_is_read_and_written_as_it_was(stored):
    body = body_from_json(stored)
    assert body_to_json(body) == stored
    assert list(body_to_json(body)) == list(stored)
    assert kind_of(body) == stored["kind"]


def test_old_entries_are_of_every_kind():
    assert {stored["kind"] for stored in STORED} == set(KINDS)


def test_fields_are_what_they_were_under_their_new_names():
    decision = next(
        body for body in map(body_from_json, STORED) if getattr(body, "quote_words", ())
    )
    assert isinstance(decision, Decision)
    assert decision.quote_words == ("What is wrong: Dampers worn.", "What it costs: 118.00 EUR.")
    assert body_to_json(decision)["told"] == list(decision.quote_words)


@pytest.mark.parametrize(("data", "said", "field", "remedy"), MISTAKES)
def test_a_mistake_is_named_as_before_with_its_path(data, said, field, remedy):
    with pytest.raises(InputError) as caught:
        body_from_json(data, "entries[2].body")
    assert caught.value.message == f"entries[2].body{said}"
    assert caught.value.field == f"entries[2].body{field}"
    assert caught.value.remedy == remedy


def test_without_a_place_the_field_stands_alone():
    with pytest.raises(InputError, match=r"^reading: a number is expected, not a text"):
        body_from_json({"kind": "finding", "check": "play", "outcome": "much", "reading": "2"})
    with pytest.raises(InputError, match=r"^entry: a set of fields is expected"):
        body_from_json(3)


def test_what_is_at_its_default_is_not_written():
    assert body_to_json(Finding("play", "much")) == {
        "kind": "finding",
        "check": "play",
        "outcome": "much",
    }
    assert body_to_json(Figures({})) == {"kind": "figures", "values": {}}
    written = body_to_json(Intake("small", "customer", "", ()))
    assert written == {
        "kind": "intake", "family": "small", "owner": "customer", "title": "", "complaints": [],
    }  # fmt: skip


def test_numbers_come_back_as_their_field_asks():
    intake = body_from_json(
        {
            "kind": "intake", "family": "small", "owner": "customer", "title": "x",
            "complaints": [], "age_years": 6, "paid_minor": 4500.0,
        }
    )  # fmt: skip
    assert (type(intake.age_years), intake.age_years) == (float, 6.0)
    assert (type(intake.paid_minor), intake.paid_minor) == (int, 4500)


def test_ranges_do_not_keep_old_entries_from_being_read():
    """The terminal of 0.1.0 took sums and texts that the API refuses."""
    decision = body_from_json({"kind": "decision", "option": "scrap", "agreed_minor": 5 * 10**11})
    assert decision.agreed_minor == 5 * 10**11
    note = body_from_json({"kind": "note", "text": "x" * 10_000})
    assert len(note.text) == 10_000
