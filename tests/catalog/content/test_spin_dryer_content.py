"""What a seasoned hand insists on before a basket at 2,800 turns a minute is let run."""

import pytest
from tests.catalog.bench_side import chances, suspects

from counterpoise.catalog.loader import load_family

COVERED = {
    "normal", "lopsided", "overfull", "piece_between", "bad_stand", "foot_worn", "mounts_torn", "basket_loose",
    "basket_bent", "basket_cracked", "bearing_worn", "seal_leaking", "belt_slips", "brake_drags", "brake_gone",
    "lid_switch", "interlock_bridged", "lid_latch", "capacitor_weak", "motor_burnt", "wiring", "lead_bare",
    "insulation_low", "timer_bad", "drain_blocked", "pump_bad",
}  # fmt: skip
NEVER_RUN = {
    "basket_loose", "basket_cracked", "brake_gone", "interlock_bridged", "lead_bare", "insulation_low",
}  # fmt: skip


@pytest.fixture(scope="module")
def family():
    return load_family("spin_dryer")


def keys_of(family, fault):
    return family.faults[fault].keys


def test_it_covers_what_makes_a_spin_dryer_hop_refuse_or_hurt(family):
    assert family.faults.keys() >= COVERED
    assert len(family.checks) >= 30
    assert len(family.repairs) >= 25
    assert len(family.access) >= 5


def test_what_must_not_run_or_leave_is_said_of_what_flies_bites_or_kills(family):
    assert {f.id for f in family.faults.values() if f.must_not_run} == NEVER_RUN
    # a leaking seal may run for a look, but wets the motor at home
    left = {f.id for f in family.faults.values() if f.must_not_leave}
    assert left == NEVER_RUN | {"seal_leaking"}


@pytest.mark.parametrize("fault", sorted(NEVER_RUN - {"interlock_bridged"}))
def test_what_must_not_run_shows_with_the_plug_out_and_nothing_opened(family, fault):
    """Each of them is known by hand or eye before anything is switched on."""
    for key in keys_of(family, fault):
        shown = [
            check.id
            for check in family.checks.values()
            if check.kind in {"look", "feel", "measure"} and check.access is None and not check.runs
            if "unplug" in check.cautions
            and sum(check.under.get(key, {}).values()) > 0.8
            and sum(check.otherwise.values()) < 0.2
        ]
        assert shown, key


def test_a_bridged_lid_switch_shows_with_the_plug_out(family):
    check = family.checks["measure_lid_switch"]
    assert "unplug" in [*check.cautions, *family.access[check.access].cautions]
    assert check.under["interlock_bridged"]["always_shut"] > 0.9


def test_every_run_says_what_turns_and_what_it_winds_up(family):
    runs = [check for check in family.checks.values() if check.runs]
    assert len(runs) >= 5
    for check in runs:
        assert {"turning_basket", "loose_clothing", "wet_mains"} <= set(check.cautions), check.id
    assert set(family.proof_cautions) >= {"turning_basket", "loose_clothing", "walks_off"}
    # the proof begins with what is looked at while the plug is out
    assert "brake" in family.proof_steps[0]
    assert "plug" in family.proof_steps[0]


def test_nothing_is_run_in_order_to_see_whether_the_brake_is_there(family):
    check = family.checks["time_brake"]
    assert check.steps[0].startswith("Only where the brake has held by hand")
    assert "no_brake" in check.cautions


def test_whoever_works_at_the_brake_tries_it_by_hand_before_it_runs(family):
    for repair in ("free_brake", "replace_brake_lining", "replace_brake_pull", "free_pedal"):
        entry = family.repairs[repair]
        assert entry.cautions[0] == "no_brake", repair
        assert "by hand" in entry.done_when.lower(), repair


def test_a_basket_is_never_straightened_or_welded(family):
    for key in ("basket_cracked", "basket_bent:rim"):
        cures = [r for r in family.repairs.values() if key in r.cures]
        assert cures
        assert all("basket" in repair.parts for repair in cures)
        assert all(repair.cautions[0] == "cracked_basket" for repair in cures)


@pytest.mark.parametrize(
    ("complaint", "findings", "expected", "least"),
    [
        ("shakes", [("ask_load", "one_piece")], {"lopsided"}, 0.6),
        (
            "shakes",
            [("ask_load", "empty_too"), ("measure_runout", "far_out")],
            {"basket_bent"},
            0.7,
        ),
        ("shakes", [("look_hang", "touching")], {"mounts_torn"}, 0.8),
        ("shakes", [("look_basket", "crack")], {"basket_cracked"}, 0.5),
        ("runs_on", [("brake_by_hand", "free")], {"brake_gone"}, 0.95),
        ("runs_on", [("ask_run_down", "drives_on")], {"interlock_bridged"}, 0.5),
        ("rumbles", [("turn_by_hand", "growls")], {"bearing_worn"}, 0.9),
        ("no_start", [("spin_empty", "hums")], {"capacitor_weak"}, 0.5),
        ("no_start", [("measure_at_plug", "open")], {"lid_switch"}, 0.3),
        ("slow", [("turn_by_hand", "drags")], {"brake_drags", "pedal_stuck"}, 0.8),
        ("scrapes", [("ask_missing", "surely")], {"piece_between"}, 0.85),
        ("leaks", [("pour_below", "drips")], {"seal_leaking"}, 0.85),
        ("water_left", [("pour_spout", "stays")], {"drain_blocked"}, 0.85),
        ("shock", [("look_lead", "bare")], {"lead_bare"}, 0.8),
        ("shock", [("look_lead", "whole")], {"insulation_low"}, 0.5),
    ],
)
def test_one_or_two_findings_read_as_any_hand_reads_them(
    family, complaint, findings, expected, least
):
    after = chances(family, [complaint], findings, age_years=8.0)
    assert suspects(after)[0] in expected
    assert sum(after[fault] for fault in expected) >= least


def test_each_complaint_alone_leaves_the_question_open(family):
    for complaint in family.complaints:
        after = chances(family, [complaint])
        # a leak below or a missing brake is said by its complaint
        most = 0.8 if complaint in {"runs_on", "leaks", "shock"} else 0.7
        assert max(after.values()) < most, complaint
        assert 1.0 < sum(after.values()) < 1.6, complaint
