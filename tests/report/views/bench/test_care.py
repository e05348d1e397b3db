"""Cautions stand in full until work was done under them; what forbids a run always does."""

from dataclasses import replace

import pytest
from tests.web.workbench import CAUTIONS, DECIDED, FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.report.views.bench.care import care
from counterpoise.report.views.job import job_view
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    Closed,
    Finding,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.store.store import Store

PLUG, EDGES, TURNING = (CAUTIONS[key].text for key in ("unplug", "edges", "turning"))
HAND = Finding("drum_by_hand", "with_tub")


@pytest.fixture
def read(tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": FAMILY})

        def after(kind, step, *bodies, lifting=(), **changes):
            number = workshop.jobs.open(INTAKE, "ada").number
            for body in bodies:
                workshop.jobs.record(number, body)
            view = job_view(workshop, number)
            shown = StepBuilder.of(view.situation, view.supply).named(kind, step)
            cared = care(view, replace(shown, **changes), lifting)
            return cared.full, [mark.mark for mark in cared.marks]

        yield after


def test_the_first_time_all_stand_in_full_the_panels_too(read):
    assert read("check", "look_springs") == ((PLUG, EDGES), [])


def test_what_was_worked_under_is_a_mark_and_the_rest_stands_in_full(read):
    assert read("check", "look_springs", HAND) == ((EDGES,), ["plug out"])
    assert read("check", "drum_by_hand", HAND) == ((), ["plug out"])
    assert read("repair", "replace_dampers", DECIDED, RepairDone("replace_dampers"))[0] == ()


def test_who_could_not_reach_it_has_not_worked_under_it(read):
    blocked = Finding("look_springs", CANNOT_REACH)
    assert read("check", "look_springs", blocked) == ((PLUG, EDGES), [])
    asked = Finding("new_place", "no")
    assert read("check", "drum_by_hand", asked) == ((PLUG,), [])


def test_a_finding_taken_back_was_none(read):
    assert read("check", "drum_by_hand", HAND, Retraction(2)) == ((PLUG,), [])


def test_a_machine_that_came_back_is_met_anew(read):
    back = (HAND, Closed("hand_back", ()), Retraction(3, comeback=True))
    assert read("check", "drum_by_hand", *back) == ((PLUG,), [])


def test_the_proof_has_cautions_of_its_own(read):
    assert read("proof", "proof", HAND) == ((TURNING,), [])
    assert read("proof", "proof", Proof(False)) == ((), ["turning"])


def test_what_forbids_and_what_lifting_takes_is_never_a_mark(read):
    forbidden = {
        "forbidden": ("Do not switch it on.", PLUG),
        "cautions": ("Do not switch it on.", PLUG),
    }
    cared = read("check", "drum_by_hand", HAND, lifting=("It weighs 70 kg.",), **forbidden)
    assert cared == (("Do not switch it on.", PLUG, "It weighs 70 kg."), [])
