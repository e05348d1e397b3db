"""Jobs of a workshop: what is recorded is checked first, and one snapshot is what a request sees."""

from dataclasses import replace

import pytest
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.errors import ConflictError, InputError, NotFoundError
from counterpoise.workshop.jobs.entries import (
    Closed,
    Figures,
    Finding,
    Note,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.services.intake import take_in
from counterpoise.workshop.services.workshop import Workshop

MOVES = Finding("drum_by_hand", "with_tub")


def test_an_intake_and_its_answers_are_stored_together_or_not_at_all(workshop):
    with pytest.raises(InputError):
        workshop.jobs.open(INTAKE, "ada", [MOVES, Finding("drum_by_hand", "sings")])
    assert workshop.jobs.lines() == []
    job = workshop.jobs.open(INTAKE, "ada", [MOVES])
    assert [entry.number for entry in job.entries] == [1, 2]


def test_an_unknown_family_is_refused_with_the_nearest_one(workshop):
    with pytest.raises(InputError, match="family") as refused:
        workshop.jobs.open(replace(INTAKE, family="smal"))
    assert "small" in refused.value.remedy
    assert workshop.jobs.lines() == []


def test_a_writer_who_saw_an_older_job_is_refused(workshop):
    number = workshop.jobs.open(INTAKE).number
    workshop.jobs.record(number, MOVES, expected_last=1)
    with pytest.raises(ConflictError, match="in between"):
        workshop.jobs.record(number, MOVES, expected_last=1)
    assert len(workshop.jobs.get(number).entries) == 2


def test_a_machine_that_came_back_opens_its_job_again(workshop):
    number = workshop.jobs.open(INTAKE).number
    with pytest.raises(InputError, match="is open"):
        workshop.jobs.reopen(number)
    closing = workshop.jobs.record(number, Closed("scrap")).number
    workshop.jobs.reopen(number, "shakes again", "ada")
    job = workshop.jobs.get(number)
    assert job.closed is None
    assert job.entries[-1].body == Retraction(closing, "shakes again", comeback=True)


def test_a_closing_keeps_the_figures_of_its_day(workshop):
    number = workshop.jobs.open(INTAKE).number
    workshop.jobs.record(number, Closed("scrap"))
    kept = workshop.jobs.get(number).closed.terms
    assert kept["bench_rate_minor"] == workshop.settings().bench_rate_minor
    workshop.change_settings({"bench_rate_minor": 9900})
    assert workshop.jobs.get(number).closed.terms == kept


def test_no_figure_of_a_closing_is_taken_from_whoever_sends_it(workshop):
    number = workshop.jobs.open(INTAKE).number
    workshop.jobs.record(number, Closed("scrap", terms={"bench_rate_minor": 1.0}))
    kept = workshop.jobs.get(number).closed.terms
    assert kept["bench_rate_minor"] == workshop.settings().bench_rate_minor


def test_a_job_out_and_in_again_is_the_same_under_another_number(workshop):
    number = workshop.jobs.open(INTAKE, "ada", [MOVES]).number
    workshop.jobs.record(number, Note("rang"))
    again = workshop.jobs.take_in(workshop.jobs.export(number))
    assert again.number != number
    assert again.entries == workshop.jobs.get(number).entries


def test_the_mistakes_of_a_file_are_all_named(workshop):
    data = workshop.jobs.export(workshop.jobs.open(INTAKE, "ada", [MOVES, MOVES]).number)
    for entry in data["entries"][1:]:
        entry["body"]["outcome"] = "sings"
    with pytest.raises(InputError) as refused:
        workshop.jobs.check_import(data)
    assert str(refused.value).count("entries[") == 2
    assert len(workshop.jobs.lines()) == 1


def test_problems_are_those_of_each_entry_on_what_came_before(workshop):
    job = workshop.jobs.open(INTAKE, "ada", [MOVES])
    assert workshop.jobs.problems(job.entries) == []
    assert len(workshop.jobs.problems(job.entries[1:])) == 1


def test_a_job_nobody_opened_is_not_found(workshop):
    for ask in (
        workshop.jobs.get,
        workshop.jobs.export,
        workshop.jobs.family_of,
        workshop.snapshot,
    ):
        with pytest.raises(NotFoundError):
            ask(9)


class TestSnapshot:
    def test_it_is_what_stood_when_it_was_read(self, workshop):
        number = workshop.jobs.open(INTAKE).number
        snapshot = workshop.snapshot(number)
        workshop.jobs.record(number, MOVES)
        workshop.change_settings({"people": 3})
        assert len(snapshot.job.entries) == 1
        assert snapshot.settings.people != 3
        assert len(workshop.snapshot(number).job.entries) == 2

    def test_the_replay_is_done_once(self, workshop):
        snapshot = workshop.snapshot(workshop.jobs.open(INTAKE).number)
        assert snapshot.situation is snapshot.situation
        assert abs(snapshot.situation.probabilities.sum() - 1.0) < 1e-9

    def test_an_assessment_is_kept_for_the_same_evidence_settings_and_supply(self, store):
        computed = []
        workshop = Workshop(
            store, {"small": FAMILY}, lambda case: computed.append(case) or len(computed)
        )
        number = workshop.jobs.open(INTAKE).number
        assert workshop.snapshot(number).assessment == 1
        assert workshop.snapshot(number).assessment == 1
        workshop.jobs.record(number, MOVES)
        assert workshop.snapshot(number).assessment == 2
        workshop.change_settings({"people": 3})
        assert workshop.snapshot(number).assessment == 3
        assert workshop.snapshot(number, careful=True).assessment == 4
        assert workshop.snapshot(number, careful=True).assessment == 4
        assert [case.settings.careful for case in computed] == [False, False, False, True]

    def test_the_oldest_is_let_go_where_there_are_many(self, store):
        computed = []
        workshop = Workshop(store, {"small": FAMILY}, lambda case: computed.append(case.job.number))
        workshop.assessments._most = 2
        numbers = [workshop.jobs.open(INTAKE).number for _ in range(3)]
        for number in (*numbers, numbers[0], numbers[2]):
            _ = workshop.snapshot(number).assessment
        assert computed == [*numbers, numbers[0]]

    def test_two_jobs_are_never_taken_for_each_other(self, store):
        workshop = Workshop(store, {"small": FAMILY}, lambda case: case.job.number)
        numbers = [workshop.jobs.open(INTAKE).number for _ in range(3)]
        assert [workshop.snapshot(number).assessment for number in numbers] == numbers


class TestTakingIn:
    def test_a_job_without_a_title_is_called_after_its_complaints(self, workshop):
        number = take_in(workshop, replace(INTAKE, title="  "), [], "ada")
        assert workshop.jobs.get(number).intake.title == (
            "A small family: shakes hard in the spin, walks across the floor"
        )

    def test_one_without_complaints_after_its_family(self, workshop):
        number = take_in(
            workshop, replace(INTAKE, title="", complaints=(), nobody_to_ask=True), [], "ada"
        )
        assert workshop.jobs.get(number).intake.title == "A small family"

    def test_the_plate_is_read_before_the_answers(self, workshop):
        bare = take_in(workshop, INTAKE, [MOVES], "ada", Figures({}, "plate"))
        assert [type(e.body).__name__ for e in workshop.jobs.get(bare).entries] == [
            "Intake",
            "Finding",
        ]

    def test_nothing_is_stored_of_an_answer_that_cannot_be(self, workshop):
        with pytest.raises(InputError):
            take_in(workshop, INTAKE, [Finding("play", "sings")], "ada")
        assert workshop.jobs.lines() == []


def test_settings_keep_to_the_currency_of_the_catalog(workshop):
    with pytest.raises(InputError, match="EUR, not USD"):
        workshop.change_settings({"currency": "USD", "people": 4})
    assert workshop.settings().people != 4
    assert workshop.change_settings({"currency": "EUR", "people": 4}).people == 4


def test_a_repair_and_its_proof_in_a_row(workshop):
    number = workshop.jobs.open(INTAKE).number
    for body in (RepairDone("replace_dampers", 30.0), Proof(True, 12.0)):
        workshop.jobs.record(number, body, "ada")
    assert [entry.by for entry in workshop.jobs.get(number).entries[1:]] == ["ada", "ada"]
