"""What comes and goes: good tries say little of it, many tries more, and it is told apart in its grades."""

import pytest
from tests.catalog.bench_side import chances

from counterpoise.catalog.loader import families, load_family

AT_TIMES = [
    (name, fault.id)
    for name in families()
    for fault in load_family(name).faults.values()
    if any(grade.id == "at_times" for grade in fault.grades)
]
# two spins that ran, as the owner watched them run here
GOOD = {
    "front_loader": [("spin_watch_speed", "full_speed"), ("empty_spin", "quiet")],
    "top_loader": [("spin_watch_drive", "takes_along"), ("empty_spin", "quiet")],
    "spin_dryer": [("spin_ring", "true_run"), ("spin_empty", "quiet")],
    "tumble_dryer": [("run_watch_start", "turns"), ("run_empty", "quiet")],
}
# what never lets it spin, so that two good spins rule it out
STEADY = {"spin_dryer": ("no_start", "timer_bad"), "tumble_dryer": ("no_turn", "control_board")}
# the check that tries it five times
FIVE = {"tumble_dryer": "run_five_times"}
LOOM = [name for name in families() if "loom_while_running" in load_family(name).checks]


def test_lock_lid_and_wires_come_and_go():
    assert {fault for _, fault in AT_TIMES} == {"wiring", "door_lock", "door_switch", "lid_switch"}


@pytest.mark.parametrize(("name", "fault"), AT_TIMES)
def test_two_good_tries_of_a_fault_that_comes_and_goes_move_it_little(name, fault):
    family = load_family(name)
    told = {"complaints": ["sometimes"], "age_years": 7.0}
    before = chances(family, **told)[fault]
    after = chances(family, findings=GOOD[name], **told)[fault]
    # what never runs is ruled out by them, so what comes and goes may even lead by more
    assert after > 0.75 * before
    never, culprit = STEADY.get(name, ("no_spin", "control_board"))
    steady = chances(family, [never], age_years=7.0)
    ruled_out = chances(family, [never], GOOD[name], age_years=7.0)[culprit]
    assert ruled_out < 0.5 * steady[culprit]
    assert steady[fault] > 0.0


@pytest.mark.parametrize(("name", "fault"), AT_TIMES)
def test_a_check_that_tries_often_tells_more_of_it_than_a_good_spin(name, fault):
    family = load_family(name)
    told = {"complaints": ["sometimes"], "age_years": 7.0}
    tries = FIVE.get(name, "spin_five_times")
    five = chances(family, findings=[(tries, "all_ran")], **told)[fault]
    single = chances(family, findings=GOOD[name][:1], **told)[fault]
    assert five < single
    failed = chances(family, findings=[(tries, "some_failed")], **told)[fault]
    assert failed > chances(family, **told)[fault]


@pytest.mark.parametrize("name", LOOM)
def test_a_loom_that_stutters_when_moved_settles_it(name):
    family = load_family(name)
    told = {"complaints": ["sometimes"], "age_years": 7.0}
    assert chances(family, findings=[("loom_while_running", "stutters")], **told)["wiring"] > 0.7
    check = family.checks["loom_while_running"]
    # with the plug in and things turning: said before the step
    assert check.cautions[0] == "live_work"
    assert {"turning_drum", "turning_basket"} & set(check.cautions)
