"""Faults that forbid: the plan waits for what clears them, and nothing is run or handed on past them."""

import pytest
from tests.workshop.forbidding import forbidding

from counterpoise.errors import InputError
from counterpoise.workshop.diagnosis.analysis import analyse
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.diagnosis.hazards import (
    must_not_leave,
    must_not_run,
    refuse_run,
    refuse_way,
)
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    Closed,
    Decision,
    Entry,
    Finding,
    Intake,
    Job,
    Note,
    Proof,
    RepairDone,
)
from counterpoise.workshop.jobs.entry_checks import forbids
from counterpoise.workshop.jobs.settings import Settings

CRACK, WHOLE = Finding("look_basket", "crack"), Finding("look_basket", "whole")


@pytest.fixture(scope="module")
def family(tmp_path_factory):
    return forbidding(tmp_path_factory.mktemp("family"))


@pytest.fixture(scope="module")
def case(family):
    def build(*bodies, owner="customer", complaints=("shakes",)):
        lines = enumerate((Intake("spin_dryer", owner, "x", complaints, 8.0), *bodies), 1)
        job = Job(1, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in lines))
        return JobCase(job, family, Settings())

    return build


def names(forbidden):
    return [each.fault for each in forbidden]


def test_from_one_in_twenty_on_a_fault_forbids_and_below_it_does_not(case):
    shaking, still = case().situation, case(complaints=("no_spin",)).situation
    assert shaking.key_chances["basket_cracked"] > 0.05 > still.key_chances["basket_cracked"]
    assert names(must_not_run(shaking)) == ["basket_cracked"]
    assert must_not_run(still) == ()


def test_many_small_ones_forbid_together_from_one_in_ten_on(case, family):
    # a bare lead at 2.7 % forbids nothing alone
    low = case(complaints=("no_spin",)).situation
    assert 0.02 < low.key_chances["lead_bare"] < 0.05
    assert must_not_run(low) == ()


def test_what_was_seen_forbids_whatever_else_is_found_until_a_repair_mends_it(case):
    seen = case(CRACK, Finding("ask_load", "never")).situation
    assert [each.fault for each in must_not_run(seen) if each.shown] == ["basket_cracked"]
    mended = case(CRACK, RepairDone("new_basket")).situation
    assert must_not_run(mended) == ()
    # another repair does not: it is believed still, and the proof must wait
    other = case(CRACK, RepairDone("set_brake")).situation
    assert names(must_not_run(other)) == ["basket_cracked"]


def test_after_a_proof_that_failed_what_was_mended_counts_again(case):
    failed = case(CRACK, RepairDone("new_basket"), Proof(False)).situation
    assert "basket_cracked" in names(must_not_run(failed))


def test_what_an_owner_says_or_a_spin_shows_is_not_seen(case):
    assert not any(each.shown for each in must_not_run(case(Finding("run_up", "hops")).situation))


@pytest.mark.parametrize("owner", ["customer", "workshop"])
@pytest.mark.parametrize("findings", [(), (CRACK,), (Finding("basket_hang", "middle"),)])
def test_while_it_forbids_no_plan_begins_with_a_run_nor_with_a_repair_that_must_be_run(
    case, family, owner, findings
):
    job = case(*findings, owner=owner)
    barred = {fault.fault for fault in must_not_run(job.situation)}
    assert barred
    plan = analyse(job).plan
    offered = [each.action for each in plan.action_bounds]
    assert not [a for a in offered if a.kind == "check" and family.checks[a.id].runs]
    for action in offered:
        if action.kind == "repair":
            cures = family.repairs[action.id].cures
            assert any(cures.get(fault, 0.0) >= 0.5 for fault in barred), action


def test_the_check_that_clears_it_is_worth_its_minutes_and_the_run_comes_after(case):
    first = assess(case())
    assert (first.next.kind, first.next.id) == ("check", "look_basket")
    cleared = case(WHOLE)
    assert must_not_run(cleared.situation) == ()
    assert any(
        each.action.kind == "check" and each.action.id == "run_up"
        for each in analyse(cleared).plan.action_bounds
    )


def test_the_proof_of_another_repair_waits_for_the_check_that_clears_it(case):
    waiting = assess(case(RepairDone("advise")))
    assert (waiting.next.kind, waiting.next.id) == ("check", "look_basket")
    assert waiting.why.startswith("The proof must wait. Do not switch it on: basket cracked")
    assert assess(case(RepairDone("advise"), WHOLE)).next.kind == "proof"


def test_a_family_without_such_faults_plans_as_it_did(case, family):
    """The very same figures, to the last bit: the rule is not there at all."""
    from dataclasses import replace

    free = {
        key: replace(fault, must_not_run="", must_not_leave="")
        for key, fault in family.faults.items()
    }
    tame = replace(family, faults=free)
    for bodies in [(), (WHOLE,)]:
        job = case(*bodies, complaints=("no_spin",))
        one = assess(JobCase(job.job, tame, Settings()))
        assert one.forbidden == ()
        assert one.next.kind in {"check", "repair"}


def test_a_picked_step_that_runs_says_nothing_but_its_caution_until_that_is_acknowledged(case):
    build = StepBuilder.of(case(CRACK).situation)
    for kind, step_id in (("check", "run_up"), ("proof", "proof")):
        step = build.picked(kind, step_id)
        assert step.withheld
        assert step.cautions[0].startswith("Do not switch it on: basket cracked (seen).")
        assert step.steps == step.answers == step.openings == ()
        whole = build.picked(kind, step_id, acknowledged=True)
        assert whole.steps
        assert whole.answers
        assert whole.cautions[0] == step.cautions[0]
    assert not build.picked("check", "basket_hang").withheld
    # the proof of the repair that mends it is free
    assert build.proof(after=build.family.repairs["new_basket"]).forbidden == ()


def test_a_run_is_refused_unless_acknowledged_and_only_while_it_forbids(case):
    with pytest.raises(InputError, match="can burst") as caught:
        refuse_run(case(CRACK).situation, acknowledged=False)
    assert caught.value.field == "acknowledged"
    refuse_run(case(CRACK).situation, acknowledged=True)
    refuse_run(case(WHOLE).situation, acknowledged=False)


@pytest.mark.parametrize("way", ["hand_back", "refer_on", "replace"])
def test_handed_on_it_needs_a_safeguard(case, way):
    seen = case(CRACK).situation
    with pytest.raises(InputError, match="throw pieces") as caught:
        refuse_way(seen, way, "", closing=False)
    assert caught.value.field == "safeguard"
    assert "Local codes" in caught.value.remedy
    refuse_way(seen, way, "out_of_use", closing=True)
    refuse_way(case(WHOLE).situation, way, "", closing=True)


def test_it_is_never_sold_but_may_be_repaired_parted_out_or_scrapped(case):
    seen = case(CRACK, owner="workshop").situation
    for safeguard in ("", "made_safe"):
        with pytest.raises(InputError, match="may not be sold"):
            refuse_way(seen, "sell_as_is", safeguard, closing=False)
    with pytest.raises(InputError, match="may not be sold"):
        refuse_way(seen, "repair_resell", "", closing=True)
    for way in ("repair_resell", "part_out", "scrap"):
        refuse_way(seen, way, "", closing=False)


def test_the_plan_and_the_ways_know_that_it_is_not_sold(case):
    seen = case(CRACK, owner="workshop")
    assert names(must_not_leave(seen.situation))[0] == "basket_cracked"
    assert "sell_as_is" not in {each.id for each in analyse(seen).planned.problem.endings}
    assert not next(o for o in assess(seen).options if o.id == "sell_as_is").available
    free = case(WHOLE, owner="workshop")
    assert next(o for o in assess(free).options if o.id == "sell_as_is").available


def test_what_is_put_down_of_a_machine_that_does_nothing_is_not_asked_for(family):
    assert forbids(family, Finding("run_up", "hops"))
    assert forbids(family, Proof(True))
    assert forbids(family, Decision("hand_back"))
    assert forbids(family, Closed("hand_back"))
    assert not forbids(family, Finding("run_up", CANNOT_REACH))
    assert not forbids(family, CRACK)
    assert not forbids(family, RepairDone("new_basket"))
    assert not forbids(family, Note("x"))
