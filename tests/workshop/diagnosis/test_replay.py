"""What evidence says of the machine on the floor: what is open, what it took, by hand."""

import pytest

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.diagnosis.evidence.bench_time import bench_minutes, panels_for
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    Closed,
    Entry,
    Finding,
    Intake,
    Job,
    Proof,
    RepairDone,
    Retraction,
)
from counterpoise.workshop.jobs.settings import Settings

FRONT = load_family("front_loader")
INTAKE = Intake("front_loader", "customer", "Veltro 6", ("shakes",), 6.0, {"drive": "belt"})
LID, REAR, TIPPED = (FRONT.access[name] for name in ("lid", "rear_panel", "tipped"))


def job(*bodies):
    lines = enumerate((INTAKE, *bodies), 1)
    return Job(1, tuple(Entry(i, "2026-03-01T09:00:00Z", "", body) for i, body in lines))


def now(*bodies):
    """The job as it stands; the books' short way to its minutes comes out the same each time."""
    situation = replay(FRONT, Settings(), job(*bodies))
    assert bench_minutes(FRONT, job(*bodies)) == situation.minutes
    return situation


def mildest(check, minutes=None):
    return Finding(check, next(iter(FRONT.checks[check].outcomes)), minutes=minutes)


def test_closing_is_counted_once_by_the_spin_that_needs_it():
    belt = mildest("look_belt", 1.0)
    opened, repair = now(belt), RepairDone("tidy_loom", 10.0)
    assert opened.minutes == 1.0 + REAR.open_min
    failed = now(belt, repair, Proof(False, 12.0))
    assert failed.minutes == 1.0 + 10.0 + 12.0 + REAR.open_min + REAR.close_min
    assert failed.opened == frozenset()
    again = now(belt, repair, Proof(False, 12.0), Proof(False, 12.0))
    assert again.minutes == failed.minutes + 12.0
    reopened = now(belt, repair, Proof(False, 12.0), RepairDone("replace_speed_sensor", 5.0))
    assert reopened.opened == {"rear_panel"}
    assert reopened.minutes == failed.minutes + 5.0 + REAR.open_min


def test_every_panel_on_the_way_is_closed():
    repair = FRONT.repairs["replace_front_weight"]
    way = [FRONT.access[name] for name in panels_for(FRONT, repair.access)]
    assert len(way) == 3
    done = now(RepairDone(repair.id, 0.0), Proof(True, 0.0))
    assert done.minutes == sum(panel.open_min + panel.close_min for panel in way)


@pytest.mark.parametrize("check", [key for key, c in FRONT.checks.items() if c.kind == "spin"])
def test_a_check_that_spins_the_machine_shuts_it(check):
    spun = now(mildest("look_upper_weight", 0.0), mildest("look_dampers", 0.0), mildest(check, 0.0))
    assert spun.opened == frozenset(panels_for(FRONT, FRONT.checks[check].access))
    closing = LID.open_min + LID.close_min + TIPPED.open_min + TIPPED.close_min
    assert spun.minutes == closing + sum(FRONT.access[p].open_min for p in spun.opened)


@pytest.mark.parametrize(("said", "shut"), [(COULD_NOT_TELL, True), (CANNOT_REACH, False)])
def test_only_a_spin_that_was_run_shuts_the_machine(said, shut):
    spun = now(mildest("look_belt"), Finding("empty_spin", said))
    assert (spun.opened == frozenset()) is shut


def test_a_spin_taken_back_leaves_the_panels_open():
    assert now(mildest("look_belt"), Proof(False), Retraction(3)).opened == {"rear_panel"}


def test_a_machine_that_came_back_stands_shut_and_nothing_is_counted_for_it():
    handed = (
        mildest("look_belt"),
        RepairDone("tidy_loom"),
        Proof(True),
        Closed("repair_hand_back"),
    )
    before, after = now(*handed), now(*handed, Retraction(5, comeback=True))
    assert after.opened == before.opened == frozenset()
    assert after.minutes == before.minutes
