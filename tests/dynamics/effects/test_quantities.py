"""The quantities that words about a spin mean: counted, fitted and read from made-up signals."""

from dataclasses import replace

import numpy as np
import pytest

from counterpoise.dynamics import build, with_fault
from counterpoise.dynamics.effects.drawing import drawn, faulty
from counterpoise.dynamics.effects.quantities import (
    QUANTITIES,
    climb,
    harmonics,
    measure,
    onsets,
    seat_touches,
    thinned,
)
from counterpoise.dynamics.effects.sides import side
from counterpoise.dynamics.effects.states import LOADS, STATES, load_class, tabulated_state
from counterpoise.dynamics.motion.run import Phone

SOUND = replace(build("front_loader"), top_rpm=700.0).with_unbalance(0.3, laundry=False)


def quantities(machine):
    fine = climb(machine, Phone())
    return measure(machine, fine, thinned(fine))


@pytest.fixture(scope="module")
def sound():
    return quantities(SOUND)


def test_a_touch_is_counted_when_it_begins():
    assert onsets(np.array([True, True, False, True, False, False, True])) == 2
    both = np.array([[False, True], [True, True], [False, False], [True, True]])
    assert onsets(both) == 3
    assert onsets(np.zeros(5, dtype=bool)) == 0


def test_amplitudes_at_half_orders_come_back_and_the_rest_is_left():
    angle = 2 * np.pi * 11.3 * np.arange(2000) / 1000.0
    other = 0.4 * np.sin(2.37 * angle)
    signal = 3.0 + 2.0 * np.cos(angle + 0.3) + 0.5 * np.sin(0.5 * angle) + other
    sizes, left = harmonics(angle, signal[:, None])
    assert sizes[:3, 0] == pytest.approx([0.5, 2.0, 0.0], abs=0.03)
    assert left.std() == pytest.approx(other.std(), rel=0.03)


def test_thinning_keeps_every_fifth_sample_and_the_largest_blow_between():
    fine = climb(SOUND, Phone())
    blows = np.zeros(fine.stop_n.size)
    blows[[3, 12, 14]] = 7.0, 2.0, 5.0
    thin = thinned(replace(fine, stop_n=blows))
    assert thin.t_s[:3] == pytest.approx([0.0, 0.005, 0.010])
    assert thin.stop_n[:5].tolist() == [0.0, 7.0, 0.0, 5.0, 0.0]
    assert thin.panel_m_s2.shape[0] == thin.stop_n.size == thin.drum_rpm.size


def test_a_sound_machine_strikes_nothing_and_stands_still(sound):
    assert sound.keys() == QUANTITIES.keys()
    for nothing in ("blows", "strike_n", "feet_up", "floor_mm"):
        assert sound[nothing] == 0.0
    assert 0.0 < sound["travel_mm"] < sound["pass_mm"]


@pytest.mark.parametrize(
    ("fault", "quantity"),
    [
        ("counterweight_loose", "blows"),
        ("short_foot", "feet_up"),
        ("soft_floor", "floor_mm"),
        ("spring_off", "low_mm"),
        ("dampers_gone", "pass_mm"),
    ],
)
def test_each_word_is_its_quantity(sound, fault, quantity):
    hurt = quantities(with_fault(SOUND, fault))
    assert side(sound[quantity], hurt[quantity], QUANTITIES[quantity].hardly) == 1


def test_a_tight_weight_touches_no_seat():
    assert not seat_touches(SOUND, np.ones((4, 36))).any()


@pytest.mark.parametrize(
    ("sound", "faulty", "way"),
    [
        (10.0, 10.4, 0),
        (10.0, 10.7, 1),
        (10.0, 9.3, -1),
        (0.0, 0.09, 0),
        (0.0, 0.2, 1),
        (-4.0, -4.2, 0),
    ],
)
def test_a_change_counts_from_a_twentieth_and_what_is_hardly_anything(sound, faulty, way):
    assert side(sound, faulty, 0.1) == way


@pytest.mark.parametrize(
    ("state", "row"),
    [
        ("damper_weak", "damper_weak"),
        ("counterweight_loose:1:1", "counterweight_loose"),
        ("drum_support_cracked:0.3", "drum_support_cracked:0.3"),
        ("drum_support_cracked:0.5", None),
        ("damper_weak:0.5", None),
        ("damper_weak+short_foot", None),
        ("short_foot:much", None),
    ],
)
def test_a_state_falls_under_its_row_or_under_none(state, row):
    assert tabulated_state(state) == row


def test_loads_follow_each_other_without_a_gap():
    assert [load_class(kg) for kg in (0.0, 0.3, 0.35, 0.6, 1.2, 5.0)] == [
        "spread", "spread", "spread", "lump", "heavy", "heavy",
    ]  # fmt: skip
    for key, load in LOADS.items():
        assert load.low_kg <= load.shown_kg <= load.high_kg
        assert load_class(load.shown_kg) == key


def test_the_same_number_draws_the_same_machine_and_the_next_another():
    assert drawn("front_loader", 4).machine == drawn("front_loader", 4).machine
    assert drawn("front_loader", 4).machine != drawn("front_loader", 5).machine
    assert [drawn("top_loader", n).load for n in range(4)] == [*LOADS, "spread"]
    case = drawn("front_loader", 7)
    assert faulty(case, "short_foot") == faulty(case, "short_foot") != case.machine
    assert len(set(STATES)) == len(STATES)


def test_no_grip_left_is_the_machine_without_its_dampers():
    gone = with_fault(SOUND, "dampers_gone")
    assert all(d.friction_n == d.viscous_n_s_m == 0.0 for d in gone.dampers)
    most = with_fault(SOUND, "dampers_gone", 0.65)
    assert most.dampers == with_fault(SOUND, "damper_weak").dampers
    # one that has come apart holds nothing either
    assert with_fault(SOUND, "damper_dead").dampers[0] == gone.dampers[0]
