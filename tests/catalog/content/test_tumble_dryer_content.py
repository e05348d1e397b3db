"""What a seasoned hand would insist on in a tumble dryer: fire, guards, sealed circuits, and what each noise means."""

import pytest
from tests.catalog.bench_side import chances, suspects

from counterpoise.catalog.loader import load_family

COVERED = {
    "normal", "load_ball", "overload", "short_foot", "touching", "stacked_shake", "packing_left", "roller_flat",
    "roller_worn", "rear_bearing", "felt_worn", "idler_worn", "belt", "baffle_loose", "drum_cracked", "foreign_object",
    "motor_bearing", "capacitor_weak", "motor_failed", "fan_loose", "filter_clogged", "lint_inside", "hose_blocked",
    "exchanger_clogged", "condensate", "heater_open", "cut_out", "temp_sensor", "moisture_sensor", "door_switch",
    "control_board", "wiring", "bare_wire", "bridged", "heat_pump_failed", "compressor_brackets",
}  # fmt: skip
# what each says before it was played: complaints, findings, who may lead
STORIES = [
    ("a bump each turn since the winter", {"age_years": 6, "features": {"carried": "rollers"}}, ["thumps"],
     [("ask_since_when", "stood_unused"), ("turn_drum_by_hand", "bump")], {"roller_flat"}),
    ("a squeal, worse when warm, a shaft behind", {"age_years": 8, "features": {"carried": "shaft"}}, ["squeals"],
     [("ask_when_it_sounds", "worse_warm"), ("look_rear_shaft", "play")], {"rear_bearing"}),
    ("hums, and runs when the drum is helped", {"age_years": 8}, ["no_turn"],
     [("run_watch_start", "hums"), ("measure_capacitor", "low")], {"capacitor_weak"}),
    ("turns in cold air, the power of a motor", {"age_years": 6, "features": {"heat": "element"}}, ["no_heat"],
     [("measure_power", "motor_only"), ("measure_heating", "coil_open")], {"heater_open"}),
    ("water below after each load", {"age_years": 5, "features": {"heat": "heat_pump"}}, ["water"],
     [("look_tank_and_floor", "water_below")], {"condensate"}),
    ("quiet alone, shakes with the washer", {"age_years": 3}, ["shakes"],
     [("ask_place", "stacked"), ("run_empty", "quiet")], {"stacked_shake"}),
]  # fmt: skip


@pytest.fixture(scope="module")
def family():
    return load_family("tumble_dryer")


def test_it_covers_what_makes_a_tumble_dryer_thump_or_refuse(family):
    assert family.faults.keys() >= COVERED
    assert len(family.checks) >= 35
    assert len(family.access) >= 8
    assert len(family.repairs) >= 25


def test_it_tumbles_and_never_spins(family):
    assert family.body.top_rpm is None
    assert family.proof_title == "Proof run"
    assert not any(fault.twin or fault.spin_group for fault in family.faults.values())


def test_what_heats_it_and_what_carries_the_drum_decides_what_can_fail(family):
    needs = {fault.id: dict(fault.needs) for fault in family.faults.values()}
    assert needs["roller_worn"] == needs["roller_flat"] == {"carried": "rollers"}
    assert needs["rear_bearing"] == {"carried": "shaft"}
    assert needs["heater_open"] == needs["cut_out"] == {"heat": "element"}
    assert needs["heat_pump_failed"] == {"heat": "heat_pump"}
    assert needs["hose_blocked"] == {"heat": "element", "air": "vented"}


@pytest.mark.parametrize("fault", ["drum_cracked", "lint_inside", "bare_wire", "bridged"])
def test_what_burns_cuts_or_is_unguarded_neither_runs_nor_leaves(family, fault):
    assert family.faults[fault].must_not_run
    assert family.faults[fault].must_not_leave


def test_no_trial_run_without_a_word_of_fire_where_a_heater_may_glow(family):
    running = [check for check in family.checks.values() if check.runs]
    assert len(running) >= 6
    for check in running:
        assert {"turning_drum"} <= set(check.cautions), check.id
        if check.needs.get("heat") != "heat_pump":
            assert "lint_fire" in check.cautions, check.id


def test_a_guard_is_never_bridged_and_the_air_is_cleared_before_a_new_cut_out(family):
    assert family.repairs["undo_bridge"].cautions[:2] == ("door_bypass", "cut_out_bypass")
    assert family.repairs["replace_cut_out"].cautions[0] == "cut_out_bypass"
    assert "way of the air before" in family.repairs["replace_cut_out"].steps[0]
    assert "cut_out" not in family.repairs["replace_heater"].cures


def test_the_sealed_circuit_and_gas_are_left_to_licensed_people(family):
    cures = [
        repair for repair in family.repairs.values() if "heat_pump_failed:leak" in repair.cures
    ]
    assert [repair.id for repair in cures] == ["mend_circuit"]
    assert "licensed" in cures[0].title
    for item in (cures[0], family.checks["look_compressor"], family.access["base_cover"]):
        assert "refrigerant" in item.cautions, item.id
    assert "gas" in family.checks["look_heat"].cautions
    assert "heat_pump" not in family.assemblies


def test_a_new_belt_begins_with_the_idler_and_rollers_come_in_sets(family):
    assert "idler" in family.repairs["replace_belt"].steps[0].lower()
    assert "roller_worn:grooved" in family.sets["rollers"].worn
    assert family.sets["rollers"].put_back == ("clean_rollers",)


@pytest.mark.parametrize(
    ("machine", "complaints", "findings", "expected"),
    [story[1:] for story in STORIES],
    ids=[story[0] for story in STORIES],
)
def test_a_seasoned_hand_would_suspect_the_same(family, machine, complaints, findings, expected):
    assert suspects(chances(family, complaints, findings, **machine))[0] in expected
