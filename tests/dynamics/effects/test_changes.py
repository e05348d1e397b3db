"""What a fault changes, in words: made-up figures, each with one thing of its own."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from counterpoise.dynamics.answers import changes as words
from counterpoise.dynamics.answers.changes import (
    changes,
    claim_words,
    drawn_words,
    hanging_words,
    heaviest_change,
)
from counterpoise.dynamics.answers.summary import FootEvent, HeaviestItem, SpinSummary
from counterpoise.dynamics.effects.table import Claim

FURTHER = Claim("damper_weak", "heavy", "pass_mm", 1, 0.91, 70, 1.6)
CALMER = Claim("damper_weak", "heavy", "shake_m_s2", -1, 0.96, 70, 0.7)
CALM = SpinSummary(
    top_rpm=1200.0, unbalance_kg=1.2, resonances=(), worst_travel_rpm=170.0, travel_mm=8.0,
    clearance_mm=27.0, strikes=False, strikes_rpm=None, hangs_right_mm=0.0, hangs_low_mm=1.4,
    lift=None, slip=None, walked_mm=0.0, floor_force_n=400.0, panel_top_m_s2=2.0,
    panel_worst_m_s2=3.0, panel_worst_rpm=900.0, panel_twice_m_s2=0.02, complete=True,
)  # fmt: skip


def study(summary=CALM, **effects):
    machine = SimpleNamespace(family="front_loader", dampers=(1, 2))
    return SimpleNamespace(machine=machine, summary=summary, effects=effects)


@pytest.fixture
def borne_out(monkeypatch):
    """Which claims the table is taken to bear out, whatever the load."""

    def these(*claims):
        monkeypatch.setattr(words, "claims", lambda *_: claims)

    return these


def test_a_claim_has_this_machines_figures_beside_those_of_the_drawn_ones():
    assert claim_words(FURTHER, 10.0, 23.0) == (
        "travel of the tub on its way up 23.0 mm (in good order 10.0: 2.3 times; more in 91 of 100)"
    )


def test_where_less_is_right_the_reason_stands_beside_it():
    assert claim_words(CALMER, 10.0, 7.0).endswith(
        "less in 96 of 100), as less grip hands less of it to the cabinet"
    )


def test_a_machine_that_is_an_exception_is_said_to_be_one():
    told = claim_words(FURTHER, 10.0, 9.0)
    assert told == (
        "travel of the tub on its way up goes the other way on this machine"
        " (9.0 mm, in good order 10.0; more in 91 of 100)"
    )
    assert drawn_words(FURTHER) in told
    assert "hardly differs on this machine" in claim_words(FURTHER, 10.0, 10.1)


def test_a_ratio_to_hardly_anything_is_not_told():
    assert "times" not in claim_words(replace(FURTHER, quantity="blows"), 0.0, 3.0)


def test_only_what_is_borne_out_is_told(borne_out):
    sound, worn = study(pass_mm=10.0, shake_m_s2=10.0), study(pass_mm=20.0, shake_m_s2=20.0)
    borne_out(FURTHER)
    told = changes("damper_weak", sound, worn)
    assert told.startswith("With 1.2 kg out of balance: travel of the tub")
    assert "shake" not in told
    borne_out()
    assert "2.0 times" not in changes("damper_weak", sound, worn)


def test_shares_are_of_machines_with_as_many_dampers_where_that_counts(borne_out):
    borne_out(FURTHER)
    one, all_worn = (
        changes(fault, study(pass_mm=10.0), study(pass_mm=20.0))
        for fault in ("damper_dead", "damper_weak")
    )
    assert one.endswith("The hundred are machines of its kind with 2 dampers drawn at random.")
    assert all_worn.endswith("The hundred are machines of its kind drawn at random.")


HANGS = {
    "lower": ({"hangs_low_mm": 31.4}, "the tub hangs 30 mm lower"),
    "higher": ({"hangs_low_mm": -8.6}, "the tub hangs 10 mm higher"),
    "sideways": ({"hangs_right_mm": -6.0}, "the tub hangs 6 mm to the left"),
}


@pytest.mark.parametrize("what", HANGS)
def test_where_the_tub_hangs_is_told_as_a_way_and_a_side(what, borne_out):
    moved, said = HANGS[what]
    faulty = replace(CALM, **moved)
    assert hanging_words(CALM, faulty) == said
    borne_out(replace(FURTHER, quantity="low_mm"), FURTHER)
    told = changes("spring_off", study(pass_mm=10.0), study(faulty, pass_mm=20.0))
    assert said in told
    assert told.count("the tub hangs") == bool(said)
    borne_out(FURTHER)
    assert "hangs" not in changes("spring_off", study(pass_mm=10.0), study(faulty, pass_mm=20.0))


def test_a_foot_that_lifts_is_news_where_that_is_borne_out(borne_out):
    lifted = study(replace(CALM, lift=FootEvent(700.0, "rear left")), feet_up=30.0, pass_mm=20.0)
    borne_out(replace(FURTHER, quantity="feet_up"))
    told = changes("short_foot", study(feet_up=0.0), lifted)
    assert told.endswith("New: the rear left foot lifts from 700 rpm.")
    borne_out(FURTHER)
    assert "lifts" not in changes("short_foot", study(pass_mm=10.0), lifted)


def test_how_much_less_it_bears_is_said_only_where_that_is_borne_out(borne_out):
    good, bad = HeaviestItem(2.0, 0.5), HeaviestItem(1.2, 0.9)

    def told(sound, faulty):
        return heaviest_change("damper_weak", study().machine, sound, faulty, "all dampers worn")

    borne_out(replace(FURTHER, quantity="strike_n"), replace(FURTHER, quantity="walked_mm"))
    # it strikes sooner and walks later: only the first agrees with the table
    assert told(good, bad) == (
        "One single heavy thing. Sound: up to 2.00 kg before it strikes."
        " With all dampers worn: up to 1.20 kg before it strikes."
    )
    assert "it strikes with nothing up to 5 kg" in told(HeaviestItem(None, None), bad)
    borne_out(CALMER)
    assert not told(good, bad)
