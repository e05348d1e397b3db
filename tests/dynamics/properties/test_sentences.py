"""What a spin does, in words and figures: made-up summaries, each with one thing of its own."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from counterpoise.dynamics import build
from counterpoise.dynamics.answers.sentences import (
    feet_words,
    force_words,
    heaviest_words,
    resonance_words,
    summary_sentences,
    travel_words,
)
from counterpoise.dynamics.answers.summary import (
    FootEvent,
    HeaviestItem,
    Resonance,
    SpinSummary,
    first_foot_event,
    first_lift,
    heaviest_passing,
    least_clearance,
    response_speeds,
    with_item,
)
from counterpoise.dynamics.effects.quantities import rolling_rms, slow_climb
from counterpoise.dynamics.motion.response import Response

CALM = SpinSummary(
    top_rpm=1200.0, unbalance_kg=0.3, resonances=(), worst_travel_rpm=170.0, travel_mm=8.0,
    clearance_mm=27.0, strikes=False, strikes_rpm=None, hangs_right_mm=0.0, hangs_low_mm=1.4,
    lift=None, slip=None, walked_mm=0.0, floor_force_n=400.0, panel_top_m_s2=2.0,
    panel_worst_m_s2=3.0, panel_worst_rpm=900.0, panel_twice_m_s2=0.02, complete=True,
)  # fmt: skip


def test_a_calm_machine_is_told_in_four_sentences():
    assert summary_sentences(CALM) == [
        "Nothing swings of its own at any speed it reaches.",
        "The tub moves at most 8.0 mm, at 170 rpm; it has 27 mm.",
        "All four feet hold up to 1200 rpm.",
        (
            "The floor takes up to 400 N beyond the weight; the top panel shakes with 2.0 m/s2 rms "
            "at 1200 rpm, at most 3.0 at 900 rpm."
        ),
    ]


def test_a_machine_that_leaves_the_model_says_so_first():
    told = summary_sentences(replace(CALM, complete=False))
    assert told[0].startswith("It tips over or breaks loose")
    assert told[1:] == summary_sentences(CALM)


def test_resonances_are_named_with_their_speeds():
    swings = (Resonance(99.6, "tub sideways", 0.1), Resonance(170.2, "tub up and down", 0.2))
    assert resonance_words(replace(CALM, resonances=swings)) == (
        "Swings of its own at 100 rpm (tub sideways), 170 rpm (tub up and down)."
    )


@pytest.mark.parametrize(("rpm", "when"), [(0.0, "at rest already"), (166.4, "from 166 rpm")])
def test_a_strike_says_from_when(rpm, when):
    assert when in travel_words(replace(CALM, strikes=True, strikes_rpm=rpm))


def test_feet_are_told_in_one_sentence_and_walking_in_another():
    lift, slip = FootEvent(700.0, "rear left"), FootEvent(900.0, "front right")
    assert feet_words(replace(CALM, lift=lift)) == "The rear left foot lifts from 700 rpm."
    assert feet_words(replace(CALM, lift=lift, slip=slip, walked_mm=12.3)) == (
        "The rear left foot lifts from 700 rpm and the front right foot would slide from 900 rpm. "
        "It walks 12 mm in one climb to top speed."
    )
    assert "walks" not in feet_words(replace(CALM, walked_mm=0.9))


def test_the_heaviest_thing_is_told_with_its_limit_or_that_there_is_none():
    light = HeaviestItem(0.42, None)
    assert heaviest_words(light) == (
        "One single heavy thing: up to 0.42 kg before it strikes; it walks with nothing up to 5 kg."
    )


def test_a_summary_is_json_with_none_for_what_does_not_happen():
    data = CALM.to_dict()
    assert data["lift"] is None
    assert data["strikes_rpm"] is None
    assert replace(CALM, lift=FootEvent(1.0, "x")).to_dict()["lift"] == {"rpm": 1.0, "foot": "x"}
    assert "4" not in force_words(replace(CALM, floor_force_n=0.0)).split(";")[0]


@pytest.mark.parametrize("amplitude", [0.5, 3.0])
def test_the_rolling_root_mean_square_of_a_sine_is_its_amplitude_over_root_two(amplitude):
    t = np.arange(4000) / 200.0
    rms = rolling_rms(9.81 + amplitude * np.sin(2 * np.pi * 5.0 * t), 200)
    assert rms[200:-200] == pytest.approx(amplitude / np.sqrt(2.0), rel=1e-3)


def test_the_rolling_root_mean_square_of_what_stands_is_nothing():
    assert rolling_rms(np.full(1000, 9.81), 200)[200:-200] == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("top_rpm", [100.0, 399.0, 400.0, 1400.0])
def test_speeds_of_the_response_rise_to_the_top_speed(top_rpm):
    speeds = response_speeds(top_rpm)
    assert all(later >= earlier for earlier, later in pairwise(speeds))
    assert speeds[-1] == top_rpm
    assert speeds[0] == 30.0


def test_a_slow_climb_stands_climbs_and_holds():
    times, speeds = zip(*slow_climb(1200.0, 30.0).points, strict=True)
    assert times == (0.0, 0.5, 30.5, 35.5)
    assert speeds == (0.0, 0.0, 1200.0, 1200.0)


def pressed(standing, swing):
    """Two speeds: at rest nothing, at the second one foot's load swings by ``swing`` N."""
    force = np.zeros((2, 4, 3), dtype=complex)
    force[1, 2, 2] = swing
    stand = np.zeros((4, 3))
    stand[:, 2] = standing
    nothing = np.zeros((2, 3), dtype=complex)
    return Response(np.array([100.0, 800.0]), nothing, nothing, force, stand, nothing)


def test_a_foot_lifts_where_its_load_swings_by_more_than_it_carries():
    assert first_lift(pressed(200.0, 150.0)) is None
    event = first_lift(pressed(200.0, 250.0))
    assert (event.rpm, event.foot) == (800.0, "rear left")
    assert first_lift(pressed(200.0, 250j)) is not None


def test_a_foot_that_hangs_free_lifts_at_once():
    assert first_lift(pressed(0.0, 0.0)).rpm == 100.0


def test_trouble_is_looked_for_over_the_whole_turn():
    seen = []
    first_foot_event(pressed(10.0, 5.0), lambda side, up: seen.append(up) or side - 1.0)
    assert max(up.max() for up in seen) == pytest.approx(15.0)
    assert min(up.min() for up in seen) == pytest.approx(5.0)


def test_the_least_clearance_is_the_shortest_way():
    machine = build("front_loader")
    stops = replace(machine.stops, side_m=0.03, along_m=0.02, down_m=0.025, up_m=0.04)
    assert least_clearance(replace(machine, stops=stops)) == 0.02


def test_one_thing_replaces_everything_else_that_is_out_of_balance():
    machine = build("front_loader").with_unbalance(0.7)
    alone = with_item(machine, 1.2)
    assert [u.mass_kg for u in alone.load.unbalances] == [1.2]
    assert alone.load.lumps == 0


@pytest.mark.parametrize("edge", [0.011, 0.3, 2.5, 4.99])
def test_halving_ends_below_the_edge_within_its_precision(edge):
    kg = heaviest_passing(lambda mass: mass > edge, 0.01)
    assert edge - 0.01 <= kg <= edge
