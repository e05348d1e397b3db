"""What page, terminal and API show of a job."""

from dataclasses import replace

import pytest
from tests.web.workbench import DECIDED, FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.errors import NotFoundError
from counterpoise.report.views.job import (
    job_answer,
    job_view,
    preselected_option,
    recorded,
)
from counterpoise.report.views.lists.jobs import job_list
from counterpoise.workshop.jobs.entries import Closed, Finding, Note


def test_a_view_is_what_the_job_was_when_it_was_read(stocked, stocked_job):
    view = job_view(stocked, stocked_job)
    stocked.jobs.record(stocked_job, Note("later"))
    assert view.last == 1
    assert [line.kind for line in view.lines] == ["Taken in"]
    assert job_view(stocked, stocked_job).last == 2


def test_nothing_is_computed_before_it_is_asked_for(stocked, stocked_job):
    asked = []
    counting = ForeseeableWorkshop(stocked.store, {"bench": FAMILY})
    counting.assessments._assessor = asked.append
    view = job_view(counting, stocked_job)
    assert (view.title, view.currency, view.lines[0].what) == (INTAKE.title, "EUR", INTAKE.title)
    assert asked == []


def test_the_line_under_the_title(stocked):
    intake = replace(INTAKE, maker="Veltro", model="6", promised="2026-03-05")
    facts = job_view(stocked, stocked.jobs.open(intake).number).facts
    assert facts == (
        "Veltro 6",
        "6 years",
        "a customer's machine",
        "promised for 5 Mar 2026",
        "0 min so far",
    )


def test_what_is_not_known_leaves_no_gap(stocked):
    bare = stocked.jobs.open(replace(INTAKE, age_years=None)).number
    assert job_view(stocked, bare).facts == (
        "age not known",
        "a customer's machine",
        "0 min so far",
    )


def test_a_closed_job_says_what_it_had_and_which_entry_closed_it(stocked, stocked_job):
    assert job_view(stocked, stocked_job).wrong == ()
    assert job_view(stocked, stocked_job).closing == 0
    entry = stocked.jobs.record(stocked_job, Closed("scrap", ("damper_worn:gone",)))
    view = job_view(stocked, stocked_job)
    assert view.wrong == ("Dampers worn (no grip left)",)
    assert view.closing == entry.number


def test_the_last_entry_that_can_be_taken_back(stocked, stocked_job):
    assert job_view(stocked, stocked_job).undo is None
    first = stocked.jobs.record(stocked_job, Finding("drum_by_hand", "with_tub")).number
    second = stocked.jobs.record(stocked_job, Note("x")).number
    stocked.jobs.retract(stocked_job, second)
    assert job_view(stocked, stocked_job).undo.number == first


def test_the_option_offered_first_is_the_decided_one_else_the_best(stocked, stocked_job):
    assert preselected_option(job_view(stocked, stocked_job)) == "repair_hand_back"
    stocked.jobs.record(stocked_job, replace(DECIDED, option="scrap"))
    assert preselected_option(job_view(stocked, stocked_job)) == "scrap"


def test_json_carries_the_number_that_guards_the_next_entry(stocked, stocked_job):
    answer = job_answer(job_view(stocked, stocked_job))
    assert (answer.number, answer.last, answer.closed) == (stocked_job, 1, False)
    assert answer.picked is None
    with pytest.raises(NotFoundError):
        job_view(stocked, 99)


def test_what_follows_an_entry_is_told_with_it(stocked, stocked_job):
    entry = stocked.jobs.record(stocked_job, Finding("new_place", "no")).number
    told = recorded(stocked, stocked_job, entry)
    assert (told.job, told.entry) == (stocked_job, entry)
    assert told.next.id == "drum_by_hand"


def test_the_list_says_where_each_job_stands(stocked, stocked_job):
    states = []
    for body in (None, Note("a"), Note("b"), DECIDED, Closed("scrap")):
        if body is not None:
            stocked.jobs.record(stocked_job, body)
        states.append(job_list(stocked)[0].state)
    assert states == [
        "came in 1 Mar 2026, nothing found yet",
        "1 entry since it came in, last touched 1 Mar 2026",
        "2 entries since it came in, last touched 1 Mar 2026",
        "decided: Repair and hand back; last touched 1 Mar 2026",
        "closed 1 Mar 2026: Scrap",
    ]


def test_careful_is_asked_for_one_view_and_changes_no_setting(stocked, stocked_job):
    assert job_view(stocked, stocked_job).assessment.careful is None
    assert job_view(stocked, stocked_job, careful=True).assessment.careful is not None
    assert not job_view(stocked, stocked_job, careful=True).settings.careful
