"""What cannot be undone waits for a hand on the part, by classes of checks and faults."""

from dataclasses import replace

import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.reasoning.actions import Action
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.hazards import BY_HAND
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.ways.at_stake import LEAST_LOST
from counterpoise.workshop.diagnosis.ways.first_step import (
    held_back,
    only_heard_of,
    told_since_repair,
    untouched_text,
)
from counterpoise.workshop.diagnosis.ways.irreversible import (
    ENDINGS,
    cannot_be_undone,
    repair_price,
)
from counterpoise.workshop.diagnosis.ways.touch import at_the_machine
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    Decision,
    Entry,
    Finding,
    Intake,
    Job,
    RepairDone,
)
from counterpoise.workshop.jobs.settings import Settings

SHOP = Settings(people=2)
FAMILIES = {name: load_family(name) for name in ("front_loader", "top_loader")}
# months of rumbling, hard water, a grey streak: what an owner says of a bearing, nobody at the drum
SAID = (Finding("ask_since_when", "crept_up"), Finding("ask_grey_spots", "plain"))


def case(*bodies, owner="workshop", age=9.0, complaints=("rumbles",), shop=SHOP, features=None):
    intake = Intake("front_loader", owner, "Veltro 6", complaints, age, features or {})
    lines = enumerate((intake, *bodies), 1)
    job = Job(1, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in lines))
    return JobCase(job, FAMILIES["front_loader"], shop)


def test_hearsay_alone_parts_out_no_machine():
    """The planner would part it out at once; a hand goes on the drum first, in minutes, and it says why."""
    analysis = analyse(case(*SAID))
    assert analysis.held is not None
    assert analysis.held.action.id == "part_out"
    answer = assess(case(*SAID))
    check = FAMILIES["front_loader"].checks[answer.next.id]
    assert check.kind in BY_HAND
    assert answer.next.minutes <= SHOP.touch_minutes
    assert "cannot be undone" in answer.why
    assert "main bearing worn" in answer.why
    # nothing else is called the reason: the plan's own words are not said of it
    assert answer.careful is None


def test_a_hand_on_the_drum_is_enough():
    check = analyse(case(*SAID)).plan.first.id
    worst = list(FAMILIES["front_loader"].checks[check].outcomes)[-1]
    after = analyse(case(*SAID, Finding(check, worst)))
    assert after.held is None
    assert after.plan.first.id == "part_out"


def test_a_check_that_could_not_be_reached_is_no_hand_on_the_part():
    check = analyse(case(*SAID)).plan.first.id
    again = analyse(case(*SAID, Finding(check, CANNOT_REACH)))
    # another one is at hand; the same is not offered twice
    assert again.held is not None
    assert again.plan.first.id != check


def test_a_dear_repair_waits_too_and_a_cheap_one_does_not():
    young = case(*SAID, owner="customer", age=2.0, features={"tub": "bolted"})
    planned = analyse(young).planned
    # what most surely cures what is most likely here: new bearings, hours of work
    likely = assess(young).suspects[0].fault
    dear = next(
        entry.id
        for entry in planned.problem.repairs
        if any(key.partition(":")[0] == likely for key in young.family.repairs[entry.id].cures)
        and repair_price(planned.problem, entry.id) >= SHOP.sure_above_minor
    )
    held = held_back(young, planned, Action("repair", dear))
    assert held is not None
    assert young.family.checks[held.touch.check].kind in BY_HAND
    cheap = replace(young, settings=replace(SHOP, sure_above_minor=10_000_000))
    assert held_back(cheap, planned, Action("repair", dear)) is None


def test_where_no_check_is_near_nothing_waits():
    """The limit is a setting: at no minutes at all the plan goes its own way."""
    assert analyse(case(*SAID, shop=replace(SHOP, touch_minutes=0.0))).held is None


def test_what_cannot_be_undone_is_weighed_with_care_whatever_the_settings():
    check = analyse(case(*SAID)).plan.first.id
    worst = list(FAMILIES["front_loader"].checks[check].outcomes)[-1]
    known = case(*SAID, Finding(check, worst))
    assert not known.settings.careful
    assert analyse(known).careful is not None
    # and only that: a job that goes on checking is planned as ever
    assert analyse(case(complaints=("shakes",))).careful is None


def test_a_decision_by_hand_stays_possible_and_says_what_was_not_touched():
    decided = case(*SAID, Decision("part_out"))
    answer = assess(decided)
    assert answer.next.id == "part_out"
    assert any("nobody has put a hand to" in warning for warning in answer.warnings)
    analysis = analyse(case(*SAID))
    assert "main bearing worn" in untouched_text(analysis.case, analysis.planned, "part_out")
    assert untouched_text(analysis.case, analysis.planned, "repair_resell") == ""


def test_what_was_felt_before_a_repair_is_not_known_after_it():
    job = case(*SAID, Finding("drum_by_hand", "with_tub"), RepairDone("replace_dampers")).job
    assert told_since_repair(job) == frozenset()


@pytest.mark.parametrize("owner", ["workshop", "customer"])
@pytest.mark.parametrize("family", FAMILIES)
def test_no_story_ends_a_machine_unseen(family, owner):
    """Every complaint, young and old: an ending that cannot be undone is advised only where a hand was
    on something, or where no check of a few minutes tells of what speaks for it."""
    for complaint in FAMILIES[family].complaints:
        for age in (2.0, 14.0):
            intake = Intake(family, owner, "Veltro 6", (complaint,), age)
            job = Job(1, (Entry(1, "2026-03-01T09:00:00Z", "", intake),))
            analysis = analyse(JobCase(job, FAMILIES[family], SHOP))
            first = analysis.plan.first
            if cannot_be_undone(analysis.planned.problem, first, SHOP) and first.id in ENDINGS:
                assert untouched_text(analysis.case, analysis.planned, first.id) == ""
            if analysis.held:
                # a hand on the part, or a look at what would be thrown away
                by_hand = FAMILIES[family].checks[first.id].kind in BY_HAND
                assert by_hand or analysis.held.lost >= LEAST_LOST


def test_what_was_said_of_a_machine_that_nobody_has_met_ends_none():
    """No part that condemns it is near, but it can be switched on and watched for a few minutes."""
    said = case(Finding("ask_display", "door"), complaints=("no_spin",), age=7.0)
    analysis = analyse(said)
    assert analysis.held is not None
    assert analysis.held.touch.faults == ()
    check = FAMILIES["front_loader"].checks[analysis.plan.first.id]
    assert at_the_machine(check)
    assert "only heard of this machine" in assess(said).why
    # a look that says only what kind of machine it is does not count, any other does
    kind = replace(
        said,
        job=case(
            *[e.body for e in said.job.entries[1:]],
            Finding("feel_drive", "belt"),
            complaints=("no_spin",),
        ).job,
    )
    assert only_heard_of(said)
    assert only_heard_of(kind)
    assert not only_heard_of(case(Finding("look_suds", "none")))
    assert not only_heard_of(case(RepairDone("advise_load")))


def test_a_hand_on_a_small_part_of_what_condemns_a_machine_is_not_enough():
    """Dampers at 35 % condemn it with the bearing at 13; the drum was held, the dampers were not."""
    findings = [
        Finding(*pair.split("="))
        for pair in [
            "ask_since_when=crept_up",
            "rock_corners=firm",
            "ask_when_in_spin=all_along",
            "measure_level=level",
            "drum_by_hand=with_tub",
        ]
    ]
    analysis = analyse(case(*findings, complaints=("shakes",), age=7.0))
    assert analysis.held is not None
    assert "dampers worn" in analysis.held.touch.faults
    assert analysis.plan.first.id != "drum_by_hand"
