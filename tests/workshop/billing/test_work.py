"""Which repairs a job is costed for, and which panels are charged: laws and edges."""

import pytest
from tests.workshop.billing.test_costing import FRONT, SHOP, job

from counterpoise.workshop.billing.job_order import done_tasks, order_for, order_of, proof_task
from counterpoise.workshop.billing.work import (
    NEARLY_AS_SURE,
    advised_work,
    best_repair,
    cure_chance,
    done_minutes,
    grade_shares,
    named_work,
)
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.jobs.entries import Closed, Finding, Proof, RepairDone, Retraction


def at(*bodies, **more):
    return JobCase(job(*bodies, **more), FRONT, SHOP)


SHUT = at()


@pytest.mark.parametrize("fault", list(FRONT.faults))
def test_shares_of_grades_sum_to_one(fault):
    shares = grade_shares(SHUT.situation, FRONT.faults[fault])
    assert set(shares) == set(FRONT.faults[fault].keys)
    assert sum(shares.values()) == pytest.approx(1.0)


@pytest.mark.parametrize("fault", list(FRONT.faults))
def test_the_best_repair_is_nearly_the_surest_of_those_that_can_be_done(fault):
    entry = FRONT.faults[fault]
    best = best_repair(SHUT.situation, SHUT.prices, entry)
    shares = grade_shares(SHUT.situation, entry)
    chances = {
        key: cure_chance(repair, entry, shares)
        for key, repair in FRONT.repairs.items()
        if repair.needs.get("drive", "belt") == "belt" and repair.people <= SHOP.people
    }
    surest = max(chances.values())
    if best is None:
        assert surest == 0.0
    else:
        assert 0.0 < surest - NEARLY_AS_SURE <= chances[best.id] or chances[best.id] == surest


def test_a_repair_that_was_tried_is_not_the_best_any_more():
    fault = FRONT.faults["damper_worn"]
    first = best_repair(SHUT.situation, SHUT.prices, fault)
    tried = at(RepairDone(first.id))
    second = best_repair(tried.situation, tried.prices, fault)
    assert second is None or second.id != first.id


def test_a_repair_named_twice_is_done_once_and_keeps_its_place():
    named = named_work(SHUT.situation, ["replace_pump", "replace_belt", "replace_pump"])
    assert [entry.id for entry in named] == ["replace_pump", "replace_belt"]


def test_what_waits_for_its_proof_is_all_that_is_costed():
    waiting = at(RepairDone("replace_belt", 20.0))
    assert [entry.id for entry in advised_work(waiting)] == ["replace_belt"]
    failed = at(RepairDone("replace_belt", 20.0), Proof(False))
    assert advised_work(failed)[0].id == "replace_belt"
    assert len(advised_work(failed)) > 1


def test_minutes_done_are_of_the_last_time_and_since_it_came_back():
    twice = at(RepairDone("replace_belt", 20.0), RepairDone("replace_belt", 7.0))
    assert done_minutes(twice) == {"replace_belt": 7.0}
    back = at(
        RepairDone("replace_belt", 20.0),
        Proof(True),
        Closed("repair_hand_back"),
        Retraction(4, comeback=True),
        RepairDone("replace_pump"),
    )
    assert done_minutes(back) == {"replace_pump": None}


def charged(case, *repairs):
    work = [FRONT.repairs[key] for key in repairs]
    order = order_of(case, work)
    from counterpoise.money.estimate import needed_positions

    return {panel.id for panel in needed_positions(order.tasks, order.positions)}


LOOK = Finding("look_belt", next(iter(FRONT.checks["look_belt"].outcomes)))


def test_a_panel_that_a_failed_proof_shut_is_not_charged_a_second_time():
    """A check had opened it and paid for it; that the repair failed costs the workshop."""
    repair, failed = RepairDone("tidy_loom", 10.0), Proof(False)
    assert charged(at(LOOK), "replace_speed_sensor") == set()
    assert charged(at(LOOK, repair, failed), "tidy_loom", "replace_speed_sensor") == set()
    assert at(LOOK, repair, failed).situation.opened == frozenset()
    assert charged(at(repair, failed), "tidy_loom", "replace_speed_sensor") == {"rear_panel"}


def test_who_opened_a_panel_first_decides_who_pays():
    by_check = at(LOOK, RepairDone("tidy_loom")).situation
    by_repair = at(RepairDone("tidy_loom"), LOOK).situation
    assert by_check.opened == by_repair.opened == {"rear_panel"}
    assert by_check.opened_by_checks == {"rear_panel"}
    assert by_repair.opened_by_checks == frozenset()


def test_an_order_without_a_job_opens_everything_once():
    entry = FRONT.repairs["replace_front_weight"]
    order = order_for(FRONT, [entry])
    assert [task.id for task in order.tasks] == [entry.id, "proof"]
    assert order.tasks[0].access == entry.access
    assert not order.worse


def test_the_proof_takes_what_the_last_true_one_took():
    usual = proof_task(FRONT, job())
    assert (usual.minutes, usual.spread) == (FRONT.proof_minutes, 0.2)
    spun = proof_task(FRONT, job(Proof(True, 9.0), Proof(False, 3.0)))
    assert (spun.minutes, spun.spread) == (9.0, 0.0)
    untold = proof_task(FRONT, job(Proof(True)))
    assert (untold.minutes, untold.spread) == (FRONT.proof_minutes, 0.0)


def test_done_tasks_need_no_belief_and_err_no_more():
    tasks, parts = done_tasks(FRONT, job(RepairDone("replace_pump", 12.0)))
    assert [(task.id, task.minutes, task.spread) for task in tasks] == [("replace_pump", 12.0, 0.0)]
    assert {part.id for part in parts} == set(FRONT.parts)
