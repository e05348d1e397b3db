"""The book of the invented workshop: a dozen jobs in every state.

They are written with the ids of ``front_loader``. Their days are those of an invented March;
:func:`counterpoise.workshop.demo.play.seed` moves them so that it ends today. In a job, a timedelta
is a wait before the next entry.
"""

from __future__ import annotations

from datetime import date, timedelta

from counterpoise.workshop.jobs.entries import (
    Body,
    Closed,
    Decision,
    Finding,
    Intake,
    Note,
    Proof,
    RepairDone,
    Retraction,
)

_DAY = timedelta(days=1)
_HOUR = timedelta(hours=1)
_KIND = "front_loader"
FIRST_DAY = date(2026, 3, 18)  # the day that becomes today

# The cheapest cause of all: eight minutes with a spanner. It comes first so that nobody takes
# bearings out before having asked about the bolts.
_DELIVERED_YESTERDAY: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Quarrow 714, wild from the first spin", ("shakes", "walks", "knocks"),
        0.1, {"drive": "direct"}, "Quarrow", "714 D", "Q714-220981",
        "third floor, bell marked Ruhl",
        "Delivered on Saturday. It walked half a metre across the bathroom in the first spin.",
    ),
    Finding("ask_since_when", "from_new", minutes=0.5),
    Finding("ask_transit_bolts", "still_in", minutes=0.3, note="What bolts?"),
    Finding("look_transit_bolts", "bolts_in", minutes=1.0, note="All four."),
    Decision("repair_hand_back", 3000, "Eight minutes of work."),
    RepairDone("remove_transit_bolts", 8.0, "Bolts in a bag, taped to the rear."),
    Proof(True, 12.0),
    Closed("repair_hand_back", ("transit_bolts",), 3000),
)  # fmt: skip
# A write-off with a welded tub: getting rid of the scrap cost money, so what came in is below
# zero.
_RUSTED_THROUGH: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "workshop", "Brindleford 60, from a cellar", ("rumbles", "shakes", "water_left"),
        16.0, {"drive": "belt", "tub": "welded"}, "Brindleford", "60 Classic",
        story="Came with a flat clearance.",
    ),
    Finding("turn_drum_by_hand", "grinds", minutes=1.0),
    Finding("drum_by_hand", "on_its_own", 4.0, 0.3, minutes=1.0),
    Finding("look_rear_hub", "wet_tracks", minutes=1.5, note="Rust down to the floor plate."),
    Finding("look_tub_seams", "crack", minutes=3.0),
    Decision("scrap", why="Welded tub, sixteen years."),
    _DAY,
    Closed("scrap", ("bearing_worn:gone", "tub_cracked"), -1000),
)  # fmt: skip
# Readings with their errors beside the words for them.
_NEW_DAMPERS: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "workshop", "Osmarin S6, swings wide", ("shakes", "stops_unbalance"), 6.0,
        {"drive": "direct", "tub": "bolted"}, "Osmarin", "S6", "OS6-118-402", paid_minor=1500,
    ),
    Finding("ask_when_in_spin", "run_up", minutes=0.4),
    Finding("drum_by_hand", "with_tub", 0.2, 0.3, minutes=1.0),
    Finding("push_tub_bounces", "swings_on", 5.0, 0.5, minutes=1.0),
    Finding(
        "measure_damper_push", "slack", 8.0, 5.0, minutes=6.0,
        note="Left front slides by itself, right one weak.",
    ),
    Decision("repair_resell"),
    RepairDone("replace_dampers", 34.0),
    Proof(True, 12.0),
    2 * _DAY,
    Closed("repair_resell", ("damper_worn:gone",), 15_500, "Sold with six months."),
)  # fmt: skip
# A repair that can be done and does not pay. She leaves the machine: it is the donor of the used
# parts on the shelf.
_TOO_DEAR: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Taldera T6, rumbles", ("rumbles", "scrapes"), 11.0,
        {"drive": "belt", "tub": "welded"}, "Taldera", "T6",
        contact="Mrs Oskamp, rings back after five",
    ),
    Finding("ask_grey_spots", "plain", minutes=0.3),
    Finding("turn_drum_by_hand", "grinds", minutes=1.0),
    Finding("empty_spin", "rumbles", minutes=4.0),
    Note(
        "Told her: bearing, tub is welded, the repair costs more than the machine has years left.",
    ),
    Decision("replace"),
    _DAY,
    Closed(
        "replace", ("bearing_worn:early",), 3000, "Diagnosis paid. She leaves the machine with us.",
    ),
)  # fmt: skip
# Nothing is broken: advice is a repair too, with minutes and a proof spin of its own.
_WITH_ONE_MAT: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Quarrow 512, stops with unbalance", ("stops_unbalance", "shakes"), 3.0,
        {"drive": "direct"}, "Quarrow", "512",
    ),
    Finding(
        "ask_which_loads", "one_piece", minutes=0.5, note="A cotton bath mat, always by itself.",
    ),
    Finding("spin_two_towels", "true_all_through", minutes=9.0),
    Decision("repair_hand_back", 2500),
    RepairDone("advise_load", 6.0, "Two towels along with the mat."),
    Proof(True, 12.0),
    Closed("repair_hand_back", ("single_heavy_item",), 2500),
)  # fmt: skip
# A comeback: the closing was right by what was known, and is taken back nine days later. The job
# must then show its old findings and ask anew; "could not tell" is an honest entry.
_CAME_BACK: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Osmarin S7, clacks once a turn", ("knocks", "shakes"), 7.0,
        {"drive": "belt"}, "Osmarin", "S7",
    ),
    Finding("slow_turn_listen", "knocks_each_turn", minutes=2.0),
    Finding("look_upper_weight", "loose", minutes=1.5),
    Decision("repair_hand_back", 6200),
    RepairDone("tighten_upper_weight", 9.0),
    Proof(True, 12.0),
    Closed("repair_hand_back", ("upper_weight_loose",), 6200),
    9 * _DAY,
    Retraction(7, "It clacks again, a little softer.", comeback=True),
    Proof(False, 6.0, "Clack at full speed. So there was a second cause."),
    Finding("look_front_weight_mirror", "could_not_tell", minutes=2.0, note="Mirror too large."),
)  # fmt: skip
# As little as a job can hold: what the planner says on the strength of a complaint and a move.
_JUST_IN: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Brindleford 70, shakes", ("shakes", "walks"), 5.0, {}, "Brindleford",
        "70 Compact", contact="the bakery", story="Since the new kitchen floor, they think.",
    ),
    Finding("ask_since_when", "after_move", minutes=0.5),
    Finding("ask_floor", "not_sure", minutes=0.3),
)  # fmt: skip
# At the customer's: what cannot be reached there is put down as such.
_ON_BOARDS: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Taldera T8 in the attic flat", ("shakes", "walks"), 4.0,
        {"drive": "belt"}, "Taldera", "T8 1200", away=True,
    ),
    Finding("ask_floor", "boards", minutes=0.3),
    Finding("measure_level", "leans", 7.0, 1.0, minutes=1.0),
    Finding("heel_drop", "swings", minutes=0.5),
    Finding("look_dampers", "cannot_reach", note="One person, third floor, no room to tip it."),
)  # fmt: skip
# A water fault, no vibration at all: repaired, and neither proved nor closed yet.
_HUMS: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "workshop", "Osmarin S5, water in the drum", ("water_left", "no_spin"), 8.0,
        {"drive": "direct"}, "Osmarin", "S5", paid_minor=1000,
    ),
    Finding("look_in_drum_water", "standing", minutes=0.5),
    Finding("drain_and_listen", "hums", minutes=2.0),
    Finding("look_drain_trap", "packed", minutes=6.0, note="Hair pins and a sock."),
    RepairDone("clear_drain", 12.0),
)  # fmt: skip
# Waits for parts with a date, so that the yard page can leave it out until they come.
_WAITS_FOR_PARTS: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Quarrow 714, bangs and leans", ("knocks", "shakes", "stops_unbalance"),
        9.0, {"drive": "direct"}, "Quarrow", "714 D", contact="Mr Aldous, mornings",
        promised="2026-03-21",
    ),
    Finding("lift_tub", "one_side_free", minutes=1.0),
    Finding("look_springs", "broken", minutes=1.0, note="Left one, at the hook."),
    Finding("drum_by_hand", "with_tub", 0.3, 0.3, minutes=1.0),
    Decision("repair_hand_back", 11_800, "He has seen the broken spring."),
    Note("Pair of springs and cups ordered.", parts_due="2026-03-20"),
)  # fmt: skip
# Waits for the customer: the next check would open the front, and she has not been asked.
_WAITS_FOR_A_WORD: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Brindleford 60, knocks in the spin", ("knocks", "shakes"), 12.0,
        {"drive": "belt", "tub": "bolted"}, "Brindleford", "60 Classic", contact="Mx Tarn",
    ),
    Finding("ask_since_when", "suddenly", minutes=0.5),
    Finding("push_tub_bounces", "two_three", 2.0, 0.5, minutes=1.0),
    Finding("drum_by_hand", "slight_play", 0.9, 0.3, minutes=1.0),
    Finding("look_dust_below", "concrete", minutes=1.5),
    Note("Rang at noon, nobody there. Ask whether the front may come off."),
)  # fmt: skip
# Repaired in the evening: a job without a proof spin is not done, and the page says so in the
# morning.
_NOT_PROVED_YET: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "workshop", "Osmarin S6, slips in the spin", ("no_spin", "scrapes"), 7.0,
        {"drive": "belt"}, "Osmarin", "S6 B", paid_minor=2000,
    ),
    Finding("spin_watch_speed", "slower", minutes=5.0),
    Finding("look_belt", "worn_or_off", minutes=1.0),
    Finding("measure_brushes", "long", 21.0, 1.0, minutes=5.0),
    RepairDone("replace_belt", 9.0),
    _HOUR,
    Note("Left for the evening. Proof spin first thing."),
)  # fmt: skip
# Probably sound: a short lurch while the load spreads is how these machines start. Not to repair
# is an ending too.
_A_SHORT_LURCH: tuple[Body | timedelta, ...] = (
    Intake(
        _KIND, "customer", "Taldera T9, lurches at the start", ("shakes",), 0.5,
        {"drive": "direct"}, "Taldera", "T9", contact="Mr and Mrs Vey", promised="2026-03-18",
        story="New, and they are worried. A lurch at every start, then quiet.",
    ),
    Finding("ask_when_in_spin", "short_start", minutes=0.4),
    Finding("ask_transit_bolts", "taken_out", minutes=0.3),
    Finding("rock_corners", "firm", minutes=0.7),
)  # fmt: skip

# The order is that of the jobs' numbers; tests and the guide name jobs by them.
BOOK: tuple[tuple[str, str, tuple[Body | timedelta, ...]], ...] = (
    ("2026-03-02T08:10:00Z", "Wenna", _DELIVERED_YESTERDAY),
    ("2026-03-02T10:05:00Z", "Odo", _RUSTED_THROUGH),
    ("2026-03-03T08:30:00Z", "Odo", _NEW_DAMPERS),
    ("2026-03-04T09:00:00Z", "Wenna", _TOO_DEAR),
    ("2026-03-05T13:20:00Z", "Wenna", _WITH_ONE_MAT),
    ("2026-03-06T08:15:00Z", "Odo", _CAME_BACK),
    ("2026-03-16T09:40:00Z", "Wenna", _ON_BOARDS),
    ("2026-03-16T11:00:00Z", "Odo", _HUMS),
    ("2026-03-16T14:30:00Z", "Odo", _WAITS_FOR_PARTS),
    ("2026-03-17T08:20:00Z", "Odo", _WAITS_FOR_A_WORD),
    ("2026-03-17T10:45:00Z", "Odo", _NOT_PROVED_YET),
    ("2026-03-17T13:30:00Z", "Wenna", _A_SHORT_LURCH),
    ("2026-03-17T15:10:00Z", "Wenna", _JUST_IN),
)
