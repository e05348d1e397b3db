import pytest

from counterpoise.catalog.loader import load_family

# What the catalog must cover, by the field's own words.
COVERED = {
    "normal", "single_heavy_item", "overload", "tangled",
    "not_level", "soft_floor", "short_foot", "transit_bolts",
    "drain_blocked", "pump_weak", "level_sensing", "suds",
    "door_lock", "damper_worn", "damper_separated", "damper_mount_broken",
    "spring_off", "spring_broken", "spring_tired", "upper_weight_loose",
    "upper_weight_cracked", "front_weight_loose", "front_weight_cracked", "drum_support",
    "bearing_worn", "seal_leaking", "drum_too_deep", "tub_cracked",
    "baffle_loose", "foreign_object", "bellows_rubbing", "rotor_magnet",
    "rotor_loose", "stator_failed", "belt_worn", "pulley_loose",
    "brushes_worn", "motor_mount_loose", "speed_sensor", "control_board",
    "wiring",
}  # fmt: skip
SPIN_GROUPS = [
    "nothing_found", "heavy_load", "rattle", "dampers", "short_foot", "drum_support", "soft_floor", "spring_off",
    "transit_bolts",
]  # fmt: skip


@pytest.fixture(scope="module")
def family():
    return load_family("front_loader")


def test_it_covers_what_makes_a_front_loader_shake_or_refuse(family):
    assert family.faults.keys() >= COVERED
    assert len(family.faults) >= 36
    assert len(family.checks) >= 50
    assert len(family.access) >= 10
    assert len(family.repairs) >= 28
    assert len(family.parts) >= 36
    assert sum(assembly.value_minor > 0 for assembly in family.assemblies.values()) >= 10
    # what an owner is asked at the counter still fits one look
    assert 6 <= len(family.complaints) <= 12


def test_electrical_work_ends_with_the_test_of_earth_and_insulation(family):
    for name in ("replace_pump", "replace_door_lock", "replace_stator", "replace_brushes", "replace_motor",
                 "replace_board", "mend_wiring", "fish_out_object"):  # fmt: skip
        assert "earth_test" in family.repairs[name].cautions, name


def test_a_recording_names_the_nine_groups_and_each_group_has_its_faults(family):
    check = family.checks["spin_recording"]
    assert (check.kind, check.exclusive, list(check.outcomes)) == ("spin", True, SPIN_GROUPS)
    grouped = {fault.spin_group for fault in family.faults.values()} - {None}
    assert grouped == set(SPIN_GROUPS)
    sound = check.under["normal"]
    for fault in family.faults.values():
        if fault.spin_group in {None, "nothing_found"}:
            continue
        for key in fault.keys:
            row = check.under[key]
            # rather silent than wrong: dampers are seldom called, but then it speaks for them
            assert row[fault.spin_group] >= 2 * sound[fault.spin_group], key
            # of all accusations the true one is the likeliest
            if not key.endswith((":early", ":corroded")):
                assert max(row, key=row.get) == fault.spin_group, key


def test_a_weight_is_tied_in_with_the_plug_out_and_its_own_caution(family):
    check = family.checks["spin_test_load"]
    assert list(check.outcomes) == SPIN_GROUPS
    assert check.cautions[0] == "unplug"
    assert "tied_weight" in check.cautions
    assert family.cautions["tied_weight"].grave
    assert check.steps[0].startswith("Plug out")
    # the towel takes the place of the laundry, so what lay in it is not there to be heard
    assert check.under["single_heavy_item"]["heavy_load"] < 0.05
    assert check.minutes > family.checks["spin_recording"].minutes


def test_rows_of_pattern_checks_leave_room_for_every_answer(family):
    for name in ("ask_which_loads", "ask_since_when", "ask_when_in_spin"):
        check = family.checks[name]
        assert check.exclusive
        for key, row in check.under.items():
            assert sum(row.values()) <= 1 + 1e-9, (name, key)


def test_the_big_repairs_are_big(family):
    support = family.repairs["replace_drum_support"]
    minutes, access = support.minutes, support.access
    while access is not None:
        minutes += family.access[access].open_min + family.access[access].close_min
        access = family.access[access].behind
    assert 150 <= minutes <= 270
    bought = sum(family.parts[part].price_minor * count for part, count in support.parts.items())
    assert bought >= 15000


def test_write_offs_are_the_drum_support_the_bearing_and_what_takes_a_new_tub(family):
    assert {fault.id for fault in family.faults.values() if fault.write_off} == {
        "drum_support", "bearing_worn", "tub_cracked", "drum_bent",
    }  # fmt: skip


def test_zero_part_repairs_are_there(family):
    free = {repair.id for repair in family.repairs.values() if not repair.parts}
    assert {
        "explain_normal",
        "advise_load",
        "level_feet",
        "firm_floor",
        "clear_drain",
        "give_room",
    } <= free
