"""The shelf in words."""

from dataclasses import replace

import pytest

from counterpoise.report.views.donor import donor
from counterpoise.report.views.job import job_view
from counterpoise.report.views.stock import (
    KINDS,
    lot_label,
    movement_words,
    origin_words,
    pieces_for,
)
from counterpoise.workshop.jobs.entries import Finding
from counterpoise.workshop.parts.stock import Lot, Move, Movement, Receipt

SET = Receipt("bench", "damper_set", "used", 2, "B2", cost_minor=900, maker="Veltro", good=0.9)


LOT = Lot(
    number=1, family="bench", item="damper_set", kind="used", cost_minor=0, asked_minor=None, maker="",
    model="", donor=None, good=None, at="2026-03-01T09:00:00Z", place="", pieces=1, held=(), used=(),
    last=1,
)  # fmt: skip
MOVED = Movement(
    number=5, lot=1, at="", by="", kind="used", pieces=0, held=0, job=None, entry=None, place="",
    note="", undoes=None, undone=False,
)  # fmt: skip


def lot(**more):
    return replace(LOT, **more)


def movement(kind, **more):
    return replace(MOVED, kind=kind, **more)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, ""),
        ({"maker": "Veltro", "model": "6"}, "for Veltro 6"),
        ({"maker": "Veltro", "donor": 9}, "off a Veltro, job 9"),
        ({"donor": 9}, "off a machine, job 9"),
        (
            {"maker": "Veltro", "donor": 9, "good": 0.9},
            "off a Veltro, job 9, good 9 times in 10, to be tested before use",
        ),
    ],
)
def test_where_a_lot_is_from(given, words):
    assert origin_words(lot(**given)) == words


@pytest.mark.parametrize(
    ("moved", "words"),
    [
        (movement("received", pieces=3, place="B2"), "3 came in, B2"),
        (movement("received", pieces=3), "3 came in"),
        (movement("used", pieces=-1, job=12), "1 used for job 12"),
        (movement("reserved", held=2, job=12), "2 reserved for job 12"),
        (movement("released", held=-2, job=12), "2 let go for job 12"),
        (movement("written_off", pieces=-1), "1 written off"),
        (movement("moved", place="C4"), "moved to C4"),
        (movement("counted"), "counted: right"),
        (movement("counted", pieces=-2), "counted: -2"),
        (movement("counted", pieces=2), "counted: +2"),
        (movement("undone", undoes=4, job=12), "movement 4 undone for job 12"),
    ],
)
def test_a_movement_in_words(moved, words):
    assert movement_words(moved) == words


def test_a_repair_may_take_the_lots_that_have_enough(stocked, stocked_job):
    assert pieces_for(job_view(stocked, stocked_job), "replace_dampers") == ()
    number = stocked.stock.receive(SET, "ada").number
    piece = pieces_for(job_view(stocked, stocked_job), "replace_dampers")[0]
    assert (piece.lot, piece.count, piece.ticked) == (number, 1, False)
    assert piece.words.startswith("Set of dampers: ")
    stocked.stock.move(Move(number, "reserved", 1, stocked_job), "ada")
    assert pieces_for(job_view(stocked, stocked_job), "replace_dampers")[0].ticked
    assert pieces_for(job_view(stocked, stocked_job), "unheard_of") == ()


def test_a_label_tells_what_it_is_where_it_is_from_and_where_it_lies(stocked):
    label = lot_label(stocked, stocked.stock.receive(SET, "ada"))
    assert label.labels[0].title == "Set of dampers"
    assert label.labels[0].lines == (
        "Used",
        "for Veltro, good 9 times in 10, to be tested before use",
        "Place B2",
    )
    assert set(KINDS) == {"new", "pattern", "used"}


def test_a_donor_is_labelled_with_what_is_worth_keeping(stocked, stocked_job):
    stocked.jobs.record(stocked_job, Finding("drum_by_hand", "on_its_own"))
    found = donor(job_view(stocked, stocked_job))
    kept = [part.title for part in found.parts if part.keep]
    assert [label.title for label in found.labels] == ["Veltro 6, two doors down", *kept]
    assert all("test before use" in label.lines[-1] for label in found.labels[1:])
    assert {piece.title for piece in found.pieces if piece.keep} <= {"Set of dampers", *kept}
    assert all(0.0 <= piece.good <= 1.0 for piece in found.pieces)
