"""What the bench asks, and the words it is answered in."""

from dataclasses import replace

import numpy as np
import pytest
from tests.dynamics.judges.textbook import verge_of_walking

from counterpoise.dynamics import build, with_fault
from counterpoise.dynamics.answers.changes import changes
from counterpoise.dynamics.answers.sentences import heaviest_words, summary_sentences
from counterpoise.dynamics.answers.summary import (
    heaviest_item,
    heaviest_passing,
    study_spin,
    with_item,
)
from counterpoise.dynamics.motion.harmonics import order_amplitude
from counterpoise.errors import InputError

SOUND = build("front_loader").with_unbalance(0.3, laundry=False)


@pytest.fixture(scope="module")
def sound():
    return study_spin(SOUND)


def test_the_sound_machine_keeps_its_feet_and_its_distance(sound):
    a = sound.summary
    assert not a.strikes
    assert a.lift is None
    assert 0.0 < a.travel_mm < a.clearance_mm
    assert a.walked_mm < 0.1
    assert any(r.words == "tub up and down" and 140 < r.rpm < 200 for r in a.resonances)


def test_the_steady_response_agrees_with_the_climb_away_from_resonance(sound):
    rpm = 1000.0
    steady = np.abs(sound.response.panel_m_s2[int(np.abs(sound.response.rpm - rpm).argmin()), 0])
    met = int(np.abs(sound.spin.drum_rpm - rpm).argmin())
    at = sound.response.rpm[int(np.abs(sound.response.rpm - rpm).argmin())]
    assert order_amplitude(sound.spin, 1.0, 0)[met] == pytest.approx(
        steady * (rpm / at) ** 3, rel=0.1
    )


def test_a_rigid_machine_lifts_and_slips_where_the_closed_form_says():
    """Transit bolts in, soft springs out of the way.

    The block on its four feet, force at mid-height of nothing but itself.
    """
    low = replace(
        SOUND, feet=tuple(replace(f, stiffness_n_m=4e6, damping_n_s_m=4000.0) for f in SOUND.feet)
    )
    bolted = with_fault(low, "transit_bolts")
    a = study_spin(
        replace(bolted, top_rpm=600.0, bolts=replace(bolted.bolts, stiffness_n_m=2e6))
    ).summary
    mass = 60.3 + 20.0
    verge = verge_of_walking(mass, 0.3 * 0.25, 0.6)
    assert a.slip is not None
    assert (
        a.slip.rpm < verge.slip_rpm
    )  # the block rocks before it slips as a whole: it can only be sooner
    assert a.slip.rpm > 0.4 * verge.slip_rpm


def test_each_machine_is_told_in_four_plain_sentences(sound):
    told = summary_sentences(sound.summary)
    assert len(told) == 4
    assert "170 rpm (tub up and down)" in told[0]
    assert told[1].startswith("The tub moves at most")
    assert told[2] == "All four feet hold up to 1200 rpm."
    assert told[3].startswith("The floor takes up to")


def test_a_lost_spring_is_told_by_where_the_tub_hangs(sound):
    told = changes("spring_off", sound, study_spin(with_fault(SOUND, "spring_off")))
    assert "the tub hangs 31 mm lower" in told
    assert "blow of the tub against the cabinet" in told


def test_a_cracked_drum_support_is_told_by_its_shake_twice_a_turn(sound):
    cracked = study_spin(with_fault(SOUND, "drum_support_cracked"))
    assert "shake twice a turn" in changes("drum_support_cracked", sound, cracked)


def test_the_heaviest_single_thing_stands_at_the_edge():
    found = heaviest_item(SOUND)
    assert found.before_striking_kg is not None
    assert found.before_walking_kg is not None
    for kg, happens in ((found.before_striking_kg, False), (found.before_striking_kg + 0.05, True)):
        assert study_spin(with_item(SOUND, kg)).summary.strikes is happens
    assert "kg before it strikes" in heaviest_words(found)


def test_dead_dampers_lower_the_heaviest_thing_before_striking():
    dead = heaviest_item(with_fault(SOUND, "two_dampers_dead"), 0.1).before_striking_kg
    whole = heaviest_item(SOUND, 0.1).before_striking_kg
    assert dead < 0.7 * whole


def test_halving_finds_the_edge_and_says_when_there_is_none():
    assert heaviest_passing(lambda kg: kg > 1.234, 0.01) == pytest.approx(1.234, abs=0.01)
    assert heaviest_passing(lambda _: False, 0.01) is None
    with pytest.raises(InputError, match=r"0\.001 to 1 kg"):
        heaviest_passing(lambda _: True, 0.0)
