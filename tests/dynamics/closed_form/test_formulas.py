"""Formulas against printed numbers of the textbooks (rows D3-D7, D9.

D12 of the project's references) and against each other.
"""

import pytest
from tests.dynamics.judges import textbook as cf

from counterpoise.dynamics import build
from counterpoise.dynamics.machines.top_loader import ring_added_mass_kg
from counterpoise.dynamics.motion.linear import modes
from counterpoise.errors import InputError

MX_ME = [
    (0.05, 1, 10),
    (0.05, 2, 1.33038),
    (0.1, 2, 1.32164),
    (0.2, 1.2, 2.21146),
    (0.2, 5, 1.03807),
    (0.3, 2, 1.23797),
]
TR = [(0.05, 2, 0.33918), (0.1, 2, 0.35586), (0.2, 1.2, 1.70349), (0.3, 5, 0.13074)]
SIX_FIGURES = 1e-5
HALF_A_DIGIT = 5e-6  # these are given to five decimals


@pytest.mark.parametrize(("zeta", "r", "expected"), MX_ME)
def test_rotating_unbalance_rao(zeta, r, expected):
    assert cf.rotating_unbalance(zeta, r) == pytest.approx(expected, rel=SIX_FIGURES)


@pytest.mark.parametrize(("zeta", "r", "expected"), TR)
def test_transmissibility_rao(zeta, r, expected):
    assert cf.transmissibility(zeta, r) == pytest.approx(expected, abs=HALF_A_DIGIT)


def test_textbook_washer_beer_and_johnston_chapter_19():
    at_speed = cf.washer(20.0, 10.0 * 0.25, 1000.0, 0.05, 250.0)
    assert 1e3 * at_speed.amplitude_m == pytest.approx(134.78, abs=0.005)
    assert at_speed.floor_force_n == pytest.approx(143.72, abs=0.005)


def test_forced_oscillator_with_dry_friction_rao_chapter_3():
    assert cf.coulomb_force(10.0, 4000.0, 0.12 * 98.1, 2.0, 0.04) == pytest.approx(97.988, abs=0.01)


def test_logarithmic_decrement_rao_chapter_2():
    found = cf.log_decrement(200.0, 2.0, 4.0, 0.5)
    assert found.zeta == pytest.approx(0.4037, abs=5e-5)
    assert found.stiffness_n_m == pytest.approx(2358.3, rel=1e-4)
    assert found.damping_n_s_m == pytest.approx(554.5, rel=1e-4)


def test_decay_by_dry_friction_rao_chapter_2():
    assert cf.coulomb_friction(2.0 / 5, 0.09, 5.0, gravity_m_s2=9.81) == pytest.approx(
        0.11318, abs=1e-5
    )


@pytest.mark.parametrize(("zeta", "too_much"), [(0.1, 0.05), (0.2, 0.26)])
def test_half_power_width_reads_too_high(zeta, too_much):
    assert cf.half_power_damping(zeta) / zeta - 1.0 == pytest.approx(too_much, abs=0.01)


def test_half_power_width_is_right_for_light_damping():
    assert cf.half_power_damping(0.001) == pytest.approx(0.001, rel=1e-4)


def test_rigid_machine_on_the_verge_of_walking():
    verge = cf.verge_of_walking(70.0, 0.15, 0.6)
    assert verge.slip_rpm == pytest.approx(463.4, abs=0.1)
    assert verge.lift_rpm == pytest.approx(646.1, abs=0.1)


def test_balance_grade_iso_21940_11():
    assert cf.permissible_unbalance_kg_m(40.0, 15.0, 1200.0) == pytest.approx(4.775e-3, abs=5e-7)


@pytest.mark.parametrize(
    ("velocity", "zone"), [(0.5, "A"), (0.71, "A"), (1.0, "B"), (4.0, "C"), (5.0, "D")]
)
def test_vibration_zones_iso_10816_1(velocity, zone):
    assert cf.vibration_zone(velocity) == zone


def test_liquid_ring_and_hanging_rods():
    assert ring_added_mass_kg(1200.0, 0.225, 0.04) == pytest.approx(7.634, abs=0.001)
    assert cf.hanging_tub_hz(35.0, 8000.0, 0.55) == pytest.approx((2.406, 0.672), abs=0.001)


def test_the_top_loader_hangs_as_the_formulas_say():
    """Sideways the rods also tilt the tub a little and the flexible lines hold it: three per
    cent.
    """
    machine = build("top_loader")
    found = {m.words: m.frequency_hz for m in modes(machine)}
    upright, pendulum = cf.hanging_tub_hz(35.0, 8000.0, 0.55)
    assert found["tub up and down"] == pytest.approx(upright, rel=0.01)
    assert found["tub sideways"] == pytest.approx(pendulum, rel=0.03)


def test_equal_halves_give_back_the_frequency():
    assert cf.joint_frequency_hz(3.0, 3.0) == pytest.approx(3.0)
    assert 3.0 < cf.joint_frequency_hz(3.0, 6.0) < 6.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: cf.washer(-1.0, 1.0, 1.0, 0.1, 100.0),
        lambda: cf.log_decrement(1.0, 1.0, 0.5, 1.0),
        lambda: cf.half_power_damping(0.5),
        lambda: cf.verge_of_walking(70.0, 0.0, 0.6),
    ],
)
def test_what_has_no_answer_is_refused_with_the_valid_range(call):
    with pytest.raises(InputError, match=r"above|has two"):
        call()
