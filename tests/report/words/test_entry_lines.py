"""Entries as lines of plain words, kind by kind."""

from dataclasses import replace

import pytest
from tests.web.workbench import FAMILY

from counterpoise.report.words.entry_lines import (
    entry_lines,
    fault_title,
    figure_words,
    option_title,
    outcome_words,
)
from counterpoise.workshop.jobs.entries import (
    Closed,
    Decision,
    Entry,
    Figures,
    Finding,
    Intake,
    Job,
    Note,
    Proof,
    RepairDone,
    Retraction,
)

AT = "2026-03-01T09:00:00Z"
INTAKE = Intake("bench", "customer", "Veltro 6", ("shakes", "gone_from_catalog"), 6.0, {})
# body, (kind, what, result) as they are read
WORDS = [
    (INTAKE, ("Taken in", "Veltro 6", "Shakes hard in the spin; gone_from_catalog")),
    (
        Finding("drum_by_hand", "with_tub"),
        ("Finding", "Move the drum by hand against the tub", "It moves with the tub"),
    ),
    (
        Finding("play", "some", reading=0.8),
        ("Finding", "Measure the play at the rim", "0.8 mm: Some"),
    ),
    (
        Finding("play", "could_not_tell"),
        ("Finding", "Measure the play at the rim", "could not tell"),
    ),
    (
        Finding("play", "cannot_reach"),
        ("Finding", "Measure the play at the rim", "cannot reach it"),
    ),
    (Finding("gone", "any"), ("Finding", "gone", "any")),
    (RepairDone("replace_dampers", 40.0), ("Repair", "Replace the set of dampers", "done")),
    (RepairDone("gone"), ("Repair", "gone", "done")),
    (Proof(True, 12.0), ("Proof spin", "Proof spin", "ran true")),
    (Proof(False), ("Proof spin", "Proof spin", "still not right")),
    (Decision("part_out"), ("Decision", "Part out", "")),
    (
        Decision("repair_hand_back", 12000),
        ("Decision", "Repair and hand back", "agreed at 120.00 EUR"),
    ),
    (
        Decision(
            "repair_hand_back",
            12000,
            quoted_minor=12000,
            ceiling_minor=14000,
            agreed_by="Ms Ferrin",
        ),
        (
            "Decision",
            "Repair and hand back",
            "quote accepted by Ms Ferrin at 120.00 EUR, at most 140.00 EUR",
        ),
    ),
    (
        Decision("hand_back", 3000, quoted_minor=12000, agreed_by="Ms Ferrin"),
        (
            "Decision",
            "Hand back unrepaired",
            "quote of 120.00 EUR declined by Ms Ferrin, 30.00 EUR owed",
        ),
    ),
    (
        Closed("scrap", ("damper_worn:gone", "not_level"), -1000),
        ("Closed", "Scrap", "Dampers worn (no grip left), Not level; brought in −10.00 EUR"),
    ),
    (Closed("part_out"), ("Closed", "Part out", "")),
    (Note("Rang at noon."), ("Note", "Rang at noon.", "")),
    (
        Note("Springs ordered.", parts_due="2026-03-05"),
        ("Note", "Springs ordered.", "Parts due 5 Mar 2026."),
    ),
    (
        Figures({"gone": 2.5}, "counted"),
        ("Machine data", "Figures of the machine, seen and counted", "gone 2.5"),
    ),
    (Retraction(2, "wrong gauge"), ("Taken back", "Entry 2 taken back", "")),
    (Retraction(2, comeback=True), ("Came back", "The machine came back", "open again")),
]


def job_of(*bodies):
    return Job(7, tuple(Entry(n, AT, "ada", body) for n, body in enumerate(bodies, 1)))


@pytest.mark.parametrize(
    ("body", "words"), WORDS, ids=[w[0] + str(i) for i, (_, w) in enumerate(WORDS)]
)
def test_an_entry_reads(body, words):
    line = entry_lines(job_of(body), FAMILY, "EUR")[0]
    assert (line.kind, line.what, line.result) == words


def test_a_line_keeps_what_goes_with_its_entry():
    finding = Finding("play", "", 0.8, minutes=3.0, note="twice", photos=("p1",), recording="r1")
    line = entry_lines(job_of(INTAKE, finding), FAMILY, "EUR")[1]
    assert (line.number, line.at, line.by) == (2, AT, "ada")
    assert (line.minutes, line.note, line.photos, line.recording) == (3.0, "twice", ("p1",), "r1")


def test_the_note_of_a_line_is_what_was_said_with_it():
    bodies = [
        replace(INTAKE, story="Since the move."),
        Decision("scrap", why="Welded tub."),
        Retraction(2, "mixed up"),
        Closed("scrap", note="To the yard."),
        Note("Only once."),
    ]
    notes = [line.note for line in entry_lines(job_of(*bodies), FAMILY, "EUR")]
    assert notes == ["Since the move.", "Welded tub.", "mixed up", "To the yard.", ""]


def test_what_was_taken_back_is_marked_and_neither_it_nor_the_intake_can_be():
    finding = Finding("play", "some")
    lines = entry_lines(job_of(INTAKE, finding, finding, Retraction(2)), FAMILY, "EUR")
    assert [line.retracted for line in lines] == [0, 4, 0, 0]
    assert [line.retractable for line in lines] == [False, False, True, False]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("damper_worn", "Dampers worn"),
        ("damper_worn:gone", "Dampers worn (no grip left)"),
        ("damper_worn:unheard_of", "Dampers worn"),
        ("unheard_of:gone", "unheard_of:gone"),
    ],
)
def test_a_fault_by_its_key(key, words):
    assert fault_title(key, FAMILY) == words


def test_an_option_nobody_knows_any_more_is_still_words():
    assert option_title("give_away_twice") == "Give away twice"


def test_a_figure_has_its_unit_and_pieces_have_none(front_loader):
    assert figure_words("machine_kg", 71.0, front_loader) == "Whole machine, empty 71 kg"
    assert figure_words("dampers", 3.0, front_loader) == "Dampers 3"
    assert figure_words("gone", 1e-7, front_loader) == "gone 1e−07"


def test_a_reading_without_an_outcome_stands_alone():
    assert outcome_words(Finding("play", "", reading=0.8), FAMILY) == "0.8 mm"
    assert outcome_words(Finding("gone", "", reading=12.0), FAMILY) == "12"
