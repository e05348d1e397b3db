"""What stands open after a step: the plan's idea of it is the replay's."""

import pytest
from tests.workshop.diagnosis.bench import FAMILY, SHOP, mildest, now

from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.planning.search_tree import state_after_check, state_after_failure
from counterpoise.workshop.diagnosis.problem import build_problem
from counterpoise.workshop.jobs.entries import Proof, RepairDone
from counterpoise.workshop.studies.bench_world import BenchMachine, BenchWorld
from counterpoise.workshop.studies.simulated_jobs import SimulatedJob

# the lid off and the machine leaned back
LOOKED = [mildest("look_upper_weight"), mildest("look_dampers")]
PROBLEM = build_problem(now(*LOOKED), SHOP)
START = (0, 0, PROBLEM.opened)


def names_of(opened):
    return {name for i, name in enumerate(FAMILY.access) if opened >> i & 1}


def test_two_things_are_open_at_the_start():
    assert names_of(PROBLEM.opened) == now(*LOOKED).opened
    assert PROBLEM.opened.bit_count() == 2


@pytest.mark.parametrize("check", [check.id for check in PROBLEM.checks])
def test_a_check_leaves_open_in_the_plan_what_it_does_in_the_job(check):
    number = [each.id for each in PROBLEM.checks].index(check)
    after = state_after_check(PROBLEM.arrays(), START, number)
    assert names_of(after[2]) == now(*LOOKED, mildest(check)).opened


def test_spins_alone_shut_the_machine():
    shutting = {check.id for check in PROBLEM.checks if check.shuts}
    assert shutting == {c.id for c in PROBLEM.checks if FAMILY.checks[c.id].kind == "spin"}
    assert len(shutting) >= 5


@pytest.mark.parametrize("repair", ["replace_front_weight", "replace_dampers", "level_feet"])
def test_a_failed_proof_leaves_nothing_open_in_the_plan_as_in_the_job(repair):
    number = [each.id for each in PROBLEM.repairs].index(repair)
    after = state_after_failure(PROBLEM.arrays(), START, number)
    failed = now(*LOOKED, RepairDone(repair), Proof(False))
    assert names_of(after[2]) == failed.opened == set()


def test_a_virtual_job_pays_for_the_way_again_after_a_failed_proof():
    world = BenchWorld.of(FAMILY, SHOP)
    hypotheses = world.model.hypotheses
    truth = hypotheses.index[(hypotheses.fault_ids.index("belt_worn"),)]
    belt = {"drive": "belt", "motor": "brushed", "tub": "bolted"}
    kind = [dict(each) for each in world.kinds.machines].index(belt)
    machine = BenchMachine(kind, truth, 6.0, ("shakes",), truth, {})
    misses, played = world.real(machine).retest.misses, {}
    for twice in (False, True):
        # both stand behind the same panels, and neither helps a worn belt
        first, second = "replace_front_weight", "tighten_front_weight"
        steps = [Action("repair", first), *([Action("repair", second)] if twice else [])]
        todo = [*steps, Action("ending", "scrap")]
        work = SimulatedJob(world, FAMILY, machine, (1,))
        played[twice] = work.play(lambda _stand, history, todo=todo: todo[len(history) - 1])
    way = ("lid", "control_panel", "front_panel")
    opening = sum(FAMILY.access[p].open_min + FAMILY.access[p].close_min for p in way)
    work = FAMILY.repairs[second].minutes * FAMILY.repairs[second].people
    again = played[True].minutes - played[False].minutes
    assert again == pytest.approx((1.0 - misses) * (opening + work + FAMILY.proof_minutes))
