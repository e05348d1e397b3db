from dataclasses import replace

import pytest
from tests.workshop.small import CHECKS, FAMILY, INTAKE

from counterpoise.catalog.loader import load_family
from counterpoise.errors import InputError, NotFoundError, ReadingError
from counterpoise.workshop.jobs.entries import (
    Closed,
    Decision,
    Entry,
    Finding,
    Intake,
    Job,
    Note,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.entry_checks import OPTIONS, check_body
from counterpoise.workshop.jobs.finding_checks import outcome_of


def job(*bodies):
    return Job(
        7,
        tuple(
            Entry(n, "2026-03-01T09:00:00Z", "", body)
            for n, body in enumerate((INTAKE, *bodies), 1)
        ),
    )


@pytest.mark.parametrize(
    "body",
    [
        INTAKE,
        Finding("drum_by_hand", "on_its_own", minutes=1.5, note="grey crumbs"),
        Finding("drum_by_hand", "could_not_tell"),
        Finding("play", "cannot_reach"),
        Finding("play", "some", weights=(0.2, 0.7, 0.1)),
        RepairDone("replace_dampers", 40),
        Proof(True, 12),
        Decision("repair_hand_back", 12_000),
        Closed("part_out", ("support_cracked", "damper_worn:gone", "damper_worn"), 6000),
        Closed("scrap", (), -1000),
        Note("the feet were all the way in"),
    ],
)
def test_what_is_right_is_stored_as_it_came(body):
    assert check_body(FAMILY, job(), body) == body


@pytest.mark.parametrize(
    ("value", "outcome"),
    [(0, "none"), (0.49, "none"), (0.5, "some"), (1.49, "some"), (1.5, "much"), (20, "much")],
)
def test_a_reading_falls_into_its_outcome_and_is_kept(value, outcome):
    stored = check_body(FAMILY, job(), Finding("play", "", float(value)))
    assert (stored.outcome, stored.reading, stored.reading_sd) == (outcome, value, 0.3)
    assert check_body(FAMILY, job(), Finding("play", outcome, float(value), 0.1)).reading_sd == 0.1


@pytest.mark.parametrize(
    ("value", "outcome"), [(200, "firm"), (40.1, "firm"), (40, "weak"), (0, "weak")]
)
def test_where_less_is_worse_the_reading_is_read_the_other_way(value, outcome):
    assert outcome_of(CHECKS["push"], value) == outcome


@pytest.mark.parametrize(
    ("value", "remedy"),
    [
        (150.0, "Did you mean 15 mm? Give it in mm, between 0 and 20"),
        (3000.0, "Did you mean 3 mm?"),
        (-1.0, "Give it in mm, between 0 and 20"),
        (float("inf"), "Give it in mm, between 0 and 20"),
    ],
)
def test_a_reading_that_cannot_be_names_unit_range_and_likely_slip(value, remedy):
    with pytest.raises(ReadingError) as caught:
        check_body(FAMILY, job(), Finding("play", "", value))
    assert caught.value.field == "reading"
    assert caught.value.remedy.startswith(remedy)
    assert "free play at the rim" in caught.value.message


WRONG = [
    (Finding("drum_by_hnd", "with_tub"), "check", "Did you mean drum_by_hand?"),
    (Finding("Move the drum by hand", "with_tub"), "check", "Did you mean drum_by_hand?"),
    (Finding("drum_by_hand", "on_its_ow"), "outcome", "Did you mean on_its_own?"),
    (Finding("drum_by_hand", ""), "outcome", "Known are with_tub, on_its_own"),
    (Finding("drum_by_hand", "", 3.0), "reading", "Choose one of its answers"),
    (Finding("drum_by_hand", "with_tub", minutes=-1), "minutes", "from 0 to 1440"),
    (Finding("drum_by_hand", "with_tub", minutes=float("nan")), "minutes", "from 0 to 1440"),
    (Finding("drum_by_hand", "could_not_tell", 3.0), "outcome", "Leave one out"),
    (Finding("play", "none", 3.0), "outcome", "Give the reading alone"),
    (Finding("play", "", 3.0, 0.0), "reading_sd", "above zero"),
    (Finding("play", "some", None, 0.3), "reading", "Give the reading"),
    (Finding("play", "some", 1.0, weights=(0, 1, 0)), "weights", "Leave one out"),
    (Finding("play", "some", weights=(1.0, 2.0)), "weights", "Give 3 numbers"),
    (Finding("play", "some", weights=(0.0, 0.0, 0.0)), "weights", "Give 3 numbers"),
    (Finding("play", "some", weights=(0.0, -1.0, 2.0)), "weights", "Give 3 numbers"),
    (
        Finding("push", "firm"),
        "features",
        "correct the intake",
    ),  # the machine of the job has no belt
    (RepairDone("replace_damper"), "repair", "Did you mean replace_dampers?"),
    (Proof(True, 1e9), "minutes", "from 0 to 1440"),
    (Decision("scap"), "option", "Did you mean scrap?"),
    (Decision("scrap", -1), "agreed_minor", "without a minus"),
    (Closed("scrap", ("damper_worn:erly",)), "faults", "Did you mean damper_worn:early?"),
    (Closed("part_out", (), -5), "received_minor", "without a minus"),
    (Closed("gone"), "ending", "Known are"),
    (Note("  "), "text", "add a photo"),
    (replace(INTAKE, complaints=("shake",)), "complaints", "Did you mean shakes?"),
    (replace(INTAKE, features={"drve": "belt"}), "features", "Did you mean drive?"),
    (replace(INTAKE, features={"drive": "chain"}), "features.drive", "Known are direct, belt"),
    (replace(INTAKE, age_years=-1), "age_years", "from 0 to 70"),
    (replace(INTAKE, paid_minor=-1), "paid_minor", "without a minus"),
    (replace(INTAKE, title=" "), "title", "which machine"),
    (replace(INTAKE, owner="nobody"), "owner", '"customer" or "workshop"'),
    (replace(INTAKE, family="other"), "family", "Open a new job"),
]


@pytest.mark.parametrize(("body", "field", "remedy"), WRONG)
def test_what_is_wrong_names_field_and_remedy_and_changes_nothing(workshop, body, field, remedy):
    number = workshop.jobs.open(INTAKE).number
    with pytest.raises(InputError) as caught:
        workshop.jobs.record(number, body)
    assert caught.value.field == field
    assert remedy in caught.value.remedy
    assert len(workshop.jobs.get(number).entries) == 1


def test_the_likeliest_answer_stands_for_soft_evidence():
    assert check_body(FAMILY, job(), Finding("play", "", weights=(0.1, 0.2, 0.7))).outcome == "much"


def test_a_check_for_another_drive_is_open_while_the_drive_is_not_known():
    unknown = Job(7, (Entry(1, "2026-03-01T09:00:00Z", "", replace(INTAKE, features={})),))
    assert check_body(FAMILY, unknown, Finding("push", "", 30.0)).outcome == "weak"


def test_a_job_begins_with_its_intake_and_a_known_family(workshop):
    with pytest.raises(InputError, match="begins with its intake"):
        check_body(FAMILY, None, Note("hello"))
    with pytest.raises(InputError, match="Did you mean small"):
        workshop.jobs.open(Intake("smal", "customer", "x", ()))
    assert workshop.jobs.lines() == []


def test_a_machine_is_taken_in_with_its_first_answers_or_not_at_all(workshop):
    with pytest.raises(InputError, match="no answer 'so_so'"):
        workshop.jobs.open(
            INTAKE, "Ada", [Finding("play", "", 1.0), Finding("drum_by_hand", "so_so")]
        )
    assert workshop.jobs.lines() == []
    job = workshop.jobs.open(INTAKE, "Ada", [Finding("play", "", 1.0)])
    assert [entry.body.outcome for entry in job.entries[1:]] == ["some"]
    assert workshop.jobs.get(job.number) == job


def test_a_closed_job_takes_only_notes_until_its_ending_is_taken_back(workshop):
    number = workshop.jobs.open(INTAKE).number
    workshop.jobs.record(number, Finding("play", "some"))
    workshop.jobs.record(number, Closed("scrap"))
    for body in (
        Finding("play", "none"),
        Decision("scrap"),
        Closed("part_out"),
        INTAKE,
        Retraction(2),
    ):
        with pytest.raises(InputError, match="is closed"):
            workshop.jobs.record(number, body)
    workshop.jobs.record(number, Note("fetched on Friday"))
    workshop.jobs.retract(number, 3)
    assert workshop.jobs.record(number, Finding("drum_by_hand", "on_its_own")).number == 6


def test_retractions_point_at_something_that_can_be_taken_back(workshop):
    number = workshop.jobs.open(INTAKE).number
    with pytest.raises(NotFoundError, match="run from 1 to 1"):
        workshop.jobs.retract(number, 2)
    with pytest.raises(InputError, match="record the intake again"):
        workshop.jobs.retract(number, 1)
    workshop.jobs.record(number, replace(INTAKE, title="Corrected"))
    workshop.jobs.retract(number, 2)
    assert workshop.jobs.get(number).intake == INTAKE
    with pytest.raises(InputError, match="is itself a retraction"):
        workshop.jobs.retract(number, 3)


def test_the_currency_is_that_of_the_catalog(workshop):
    with pytest.raises(InputError, match="prices of the catalog are in EUR, not USD"):
        workshop.change_settings({"currency": "USD"})
    assert workshop.change_settings({"tax_percent": 19}) == workshop.settings()


def test_every_option_of_the_money_room_can_be_decided():
    from counterpoise.money import option_cases as sides

    source = __import__("inspect").getsource(sides)
    assert all(f'"{option}"' in source for option in OPTIONS)


@pytest.mark.parametrize(
    ("answer", "field"),
    [
        (Decision("repair_hand_back", 100, quoted_minor=100, ceiling_minor=99), "ceiling_minor"),
        (Decision("repair_hand_back", 100, quoted_minor=-1), "quoted_minor"),
        (Decision("repair_hand_back", repairs=("pray",)), "repairs"),
    ],
)
def test_an_answer_to_a_quote_that_cannot_be_is_refused(answer, field):
    with pytest.raises(InputError) as caught:
        check_body(FAMILY, job(), answer)
    assert caught.value.field == field


@pytest.mark.parametrize("features", [{"drive": "direct", "motor": "brushed"}])
def test_features_that_no_machine_has_together_are_refused_at_intake(features):
    family = load_family("front_loader")
    intake = replace(INTAKE, family="front_loader", complaints=(), features=features)
    with pytest.raises(InputError, match="does not go with") as refused:
        check_body(family, None, intake)
    assert refused.value.field == "features.motor"
    for fitting in ({"drive": "direct", "motor": "brushless"}, {"motor": "brushed"}):
        assert check_body(family, None, replace(intake, features=fitting)).features == fitting
