"""Short stories that any seasoned hand reads at once; the figures of the catalog must read them the same way."""

import pytest
from tests.catalog.bench_side import chances, suspects

from counterpoise.catalog.loader import load_family

FRONT = [
    ("delivered yesterday, wild from the first spin", {"age_years": 0}, ["shakes", "walks"],
     [("ask_since_when", "from_new"), ("ask_when_in_spin", "full_speed")], ["transit_bolts"], 0.85),
    ("ten years, rumbles, drum wobbles, grey crumbs", {"age_years": 10}, ["rumbles"],
     [("drum_by_hand", "on_its_own"), ("look_drain_trap", "crumbs")], ["drum_support", "bearing_worn"], 0.95),
    ("grey crumbs, knocks once a turn", {"age_years": 10}, ["knocks", "shakes"],
     [("look_drain_trap", "crumbs"), ("slow_turn_listen", "knocks_each_turn")], ["drum_support"], 0.8),
    ("fine with towels, wild with one bath mat", {"age_years": 4}, ["shakes"],
     [("ask_which_loads", "one_piece")], ["single_heavy_item"], 0.5),
    ("boards over joists", {"age_years": 3}, ["shakes", "walks"], [("ask_floor", "boards")], ["soft_floor"], 0.5),
    ("shakes since the motor was off", {"age_years": 6, "features": {"drive": "belt"}}, ["shakes"],
     [("ask_since_when", "after_work"), ("ask_last_work", "motor")],
     ["motor_mount_loose", "pulley_loose", "loom_touching", "wiring"], 0.7),
    ("the same, direct drive", {"age_years": 6, "features": {"drive": "direct"}}, ["shakes"],
     [("ask_since_when", "after_work"), ("ask_last_work", "motor")],
     ["rotor_loose", "rotor_magnet", "loom_touching", "wiring"], 0.7),
    ("water in the drum and a hum", {"age_years": 7}, ["water_left"],
     [("drain_and_listen", "hums")], ["drain_blocked", "pump_weak"], 0.9),
    ("bangs when turning slowly, one corner rocks", {"age_years": 4}, ["knocks"],
     [("ask_when_in_spin", "slow_turning"), ("rock_corners", "rocks")], ["short_foot"], 0.8),
    ("a little lurch, then quiet", {"age_years": 3}, ["shakes"],
     [("ask_which_loads", "early_lurch"), ("ask_when_in_spin", "short_start")], ["normal"], 0.9),
    ("nine years, the pushed tub swings on", {"age_years": 9}, ["shakes"],
     [("push_tub_bounces", "swings_on")], ["damper_worn", "damper_separated", "damper_mount_broken"], 0.85),
    ("scrapes since new bearings", {"age_years": 9}, ["scrapes"],
     [("ask_since_when", "after_work"), ("ask_last_work", "bearing")], ["drum_too_deep"], 0.6),
    ("tub to one side", {"age_years": 7}, ["knocks"], [("look_springs", "unhooked")], ["spring_off"], 0.85),
    ("lumps of concrete below", {"age_years": 7}, ["knocks"], [("look_dust_below", "concrete")],
     ["upper_weight_cracked", "front_weight_cracked", "upper_weight_loose", "front_weight_loose", "lower_weight"], 0.85),
    ("tinkles and a coin is gone", {"age_years": 5}, ["scrapes"],
     [("turn_drum_by_hand", "tinkles"), ("ask_pockets", "surely")], ["foreign_object"], 0.9),
]  # fmt: skip
TOP = [
    ("new, wild from the first spin", {"age_years": 0}, ["shakes"],
     [("ask_since_when", "from_new"), ("ask_when_in_spin", "full_speed")], ["packing_left"], 0.8),
    ("does nothing in the spin, laundry dripping", {"age_years": 6}, ["no_spin"],
     [("spin_watch_drive", "nothing"), ("look_in_basket_water", "damp")], ["lid_switch"], 0.5),
    ("motor runs, basket does not", {"age_years": 8, "features": {"drive": "direct"}}, ["no_spin"],
     [("spin_watch_drive", "motor_only")], ["coupler_broken"], 0.8),
    ("tub hangs crooked", {"age_years": 8, "features": {"suspension": "rods"}}, ["shakes", "knocks"],
     [("look_basket_hang", "crooked")], ["rod_off"], 0.7),
    ("swings on", {"age_years": 8, "features": {"suspension": "rods"}}, ["shakes", "knocks"],
     [("push_basket_bounces", "swings_on")], ["rods_worn"], 0.75),
    ("silent ring", {"age_years": 8}, ["shakes", "stops_unbalance"], [("slosh_ring", "silent")], ["ring_empty"], 0.6),
    ("oil below", {"age_years": 11}, ["rumbles"], [("look_oil_below", "oil")], ["transmission_worn"], 0.7),
    ("a sway at the start, then quiet", {"age_years": 3}, ["shakes"],
     [("ask_which_loads", "early_sway"), ("ask_when_in_spin", "short_start")], ["normal"], 0.9),
]  # fmt: skip


def told(family, age_and_kind, complaints, findings, expected, least):
    found = chances(family, complaints, findings, **age_and_kind)
    assert suspects(found)[0] in expected
    assert sum(found.get(fault, 0.0) for fault in expected) >= least


@pytest.mark.parametrize(("age_and_kind", "complaints", "findings", "expected", "least"),
                         [story[1:] for story in FRONT], ids=[story[0] for story in FRONT])  # fmt: skip
def test_front_loader_stories(age_and_kind, complaints, findings, expected, least):
    told(load_family("front_loader"), age_and_kind, complaints, findings, expected, least)


@pytest.mark.parametrize(("age_and_kind", "complaints", "findings", "expected", "least"),
                         [story[1:] for story in TOP], ids=[story[0] for story in TOP])  # fmt: skip
def test_top_loader_stories(age_and_kind, complaints, findings, expected, least):
    told(load_family("top_loader"), age_and_kind, complaints, findings, expected, least)


@pytest.mark.parametrize("name", ["front_loader", "top_loader", "tumble_dryer"])
def test_each_complaint_alone_leaves_the_question_open(name):
    family = load_family(name)
    for complaint in family.complaints:
        found = chances(family, [complaint])
        assert max(found.values()) < 0.7, complaint
        assert 1.1 < sum(found.values()) < 1.6, complaint
