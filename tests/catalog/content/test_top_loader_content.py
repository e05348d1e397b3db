import pytest

from counterpoise.catalog.loader import load_family

COVERED = {
    "normal", "lopsided_load", "overload", "not_level", "short_leg", "soft_floor", "packing_left", "rods_worn",
    "rod_off",
    "pads_worn", "base_spring_off", "carrier_leg_broken", "ring_empty", "ring_loose", "basket_loose", "bearing_worn",
    "transmission_worn", "clutch_worn", "shifter_stuck", "brake_drags", "belt_worn", "coupler_broken", "capacitor_weak",
    "motor_failed", "lid_switch", "drain_blocked", "pump_weak", "level_sensing", "suds", "foreign_object",
    "agitator_loose", "control_board", "wiring",
}  # fmt: skip


@pytest.fixture(scope="module")
def family():
    return load_family("top_loader")


def test_it_covers_what_makes_a_top_loader_shake_or_refuse(family):
    assert family.faults.keys() >= COVERED
    assert len(family.checks) >= 35
    assert len(family.access) >= 8
    assert len(family.repairs) >= 25


def test_what_the_machine_hangs_on_and_what_drives_it_decides_what_can_fail(family):
    needs = {fault.id: dict(fault.needs) for fault in family.faults.values()}
    assert needs["rods_worn"] == {"suspension": "rods"}
    assert needs["pads_worn"] == {"suspension": "base"}
    assert needs["clutch_worn"] == {"drive": "belt"}
    assert needs["coupler_broken"] == {"drive": "direct"}


def test_nothing_asks_to_bridge_the_lid_switch(family):
    for check in ("brake_by_lid", "spin_watch_drive", "lid_click"):
        assert "lid_bypass" in family.checks[check].cautions
    assert family.repairs["replace_lid_switch"].cautions[0] == "lid_bypass"


def test_a_rod_is_never_taken_out_of_an_unblocked_tub(family):
    for name in ("replace_rods", "rehang_rod", "grease_sockets"):
        assert family.repairs[name].cautions[0] == "tub_drops", name
