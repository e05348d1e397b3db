"""Taking a machine in: a title of its own words, all answers or none, a wrong family in words."""

from dataclasses import replace

import pytest
from tests.workshop.small import FAMILY, INTAKE

from counterpoise.errors import InputError, NotFoundError, StoreError
from counterpoise.workshop.jobs.entries import Closed, Figures, Finding, Note
from counterpoise.workshop.services.families import Families
from counterpoise.workshop.services.intake import open_workshop, take_in

UNTITLED = replace(INTAKE, title="  ")


@pytest.mark.parametrize(
    ("complaints", "title"),
    [
        (("shakes", "walks"), "A small family: shakes hard in the spin, walks across the floor"),
        (("walks", "shakes"), "A small family: walks across the floor, shakes hard in the spin"),
        (("walks",), "A small family: walks across the floor"),
        ((), "A small family"),
    ],
)
def test_a_job_without_a_title_is_called_by_what_was_said_first(workshop, complaints, title):
    # without a complaint it is taken in only where nobody can say one
    said = replace(UNTITLED, complaints=complaints, nobody_to_ask=not complaints)
    number = take_in(workshop, said, (), "ada")
    assert workshop.jobs.get(number).intake.title == title


def test_a_title_that_was_given_stays(workshop):
    number = take_in(workshop, INTAKE, (), "ada")
    assert workshop.jobs.get(number).intake.title == INTAKE.title


def test_answers_stand_in_their_order_by_who_took_the_machine_in(workshop):
    answers = (Finding("drum_by_hand", "with_tub"), Finding("play", "none"))
    job = workshop.jobs.get(take_in(workshop, INTAKE, answers, "ada"))
    assert [entry.body.check for entry in job.entries[1:]] == ["drum_by_hand", "play"]
    assert {entry.by for entry in job.entries} == {"ada"}
    assert [entry.number for entry in job.entries] == [1, 2, 3]


@pytest.mark.parametrize(
    "answer", [Finding("drum_by_hand", "on_fire"), Finding("no_such_check", "with_tub")]
)
def test_one_refused_answer_keeps_the_job_out_of_the_store(workshop, answer):
    with pytest.raises(InputError):
        take_in(workshop, INTAKE, (Finding("play", "none"), answer), "ada")
    assert workshop.jobs.lines() == []


@pytest.mark.parametrize("complaints", [("sings",), ("shakes", "sings")])
def test_a_complaint_that_the_family_does_not_know_is_refused(workshop, complaints):
    with pytest.raises(InputError, match="sings"):
        take_in(workshop, replace(INTAKE, complaints=complaints), (), "ada")
    assert workshop.jobs.lines() == []


def test_a_figure_that_the_family_does_not_keep_is_refused_with_the_job(workshop):
    with pytest.raises(InputError):
        take_in(workshop, INTAKE, (), "ada", Figures({"weight_of_the_cat": 4.0}))
    assert workshop.jobs.lines() == []


def test_an_unknown_family_is_named_with_the_nearest_one(workshop):
    with pytest.raises(InputError, match="there is no 'smal'") as refusal:
        take_in(workshop, replace(INTAKE, family="smal"), (), "ada")
    assert refusal.value.field == "family"
    assert "small" in refusal.value.remedy


def test_families_are_a_mapping_of_what_was_given():
    families = Families({"small": FAMILY})
    assert (list(families), len(families), families["small"]) == (["small"], 1, FAMILY)
    assert "small" in families
    assert "large" not in families
    with pytest.raises(KeyError):
        families["large"]


@pytest.mark.parametrize(
    ("family", "item", "title"),
    [("front_loader", "belt", "belt"), ("small", "gone_part", "gone_part")],
)
def test_what_the_catalog_no_longer_has_is_called_by_its_id(family, item, title):
    assert Families({"small": FAMILY}).title_of(family, item) == title


def test_a_workshop_opens_with_every_family_shipped_and_reads_none(tmp_path, monkeypatch):
    from counterpoise.catalog import loader

    def read(_):
        raise AssertionError("a family was read")

    monkeypatch.setattr(loader, "load_family", read)
    shop = open_workshop(str(tmp_path / "new.db"))
    with shop.store:
        assert set(shop.families) == set(loader.families())
        assert shop.jobs.lines() == []


def test_a_store_that_cannot_be_opened_is_refused(tmp_path):
    (tmp_path / "notes.txt").write_text("no database " * 200)
    with pytest.raises(StoreError):
        open_workshop(str(tmp_path / "notes.txt"))


def test_a_job_comes_back_once_and_only_when_it_was_closed(workshop):
    number = take_in(workshop, INTAKE, (), "ada")
    with pytest.raises(InputError, match="is open"):
        workshop.jobs.reopen(number, "still shakes", "bo")
    closed = workshop.jobs.record(number, Closed("hand_back"), "ada")
    back = workshop.jobs.reopen(number, "still shakes", "bo")
    assert (back.body.entry, back.body.comeback, back.by) == (closed.number, True, "bo")
    assert workshop.jobs.get(number).closed is None
    with pytest.raises(InputError, match="is open"):
        workshop.jobs.reopen(number, "again", "bo")


def test_nothing_is_written_to_a_job_that_is_not_there(workshop):
    for ask in (
        workshop.jobs.get,
        workshop.jobs.family_of,
        workshop.snapshot,
        workshop.jobs.export,
    ):
        with pytest.raises(NotFoundError):
            ask(7)
    with pytest.raises(NotFoundError):
        workshop.jobs.record(7, Note("hello"))


def test_an_exported_job_comes_in_as_the_same_job_under_a_new_number(workshop):
    number = take_in(workshop, INTAKE, (Finding("play", "some"),), "ada")
    data = workshop.jobs.export(number)
    again = workshop.jobs.take_in(data)
    assert again.number != number
    assert [e.body for e in again.entries] == [e.body for e in workshop.jobs.get(number).entries]


def test_an_export_with_a_wrong_finding_names_its_place_and_stores_nothing(workshop):
    data = workshop.jobs.export(take_in(workshop, INTAKE, (Finding("play", "some"),), "ada"))
    data["entries"][1]["body"]["outcome"] = "enormous"
    with pytest.raises(InputError, match=r"entries\[1\]"):
        workshop.jobs.take_in(data)
    assert len(workshop.jobs.lines()) == 1


def test_nobody_to_ask_and_answers_of_an_owner_do_not_go_together(workshop):
    answers = (Finding("drum_by_hand", "with_tub"),)
    with pytest.raises(InputError) as refused:
        take_in(workshop, replace(INTAKE, nobody_to_ask=True), answers, "ada")
    assert refused.value.field == "nobody_to_ask"
    assert workshop.jobs.lines() == []
