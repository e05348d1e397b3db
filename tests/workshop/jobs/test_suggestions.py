"""What may have been meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.workshop.jobs.suggestions import did_you_mean

KNOWN = {"drum_by_hand": "Move the drum by hand", "play": "Measure the play at the rim"}


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("drum_by_hnd", "drum_by_hand"),
        ("DRUM_BY_HAND", "drum_by_hand"),
        ("move the drum by hand", "drum_by_hand"),
        ("Measure play at the rim", "play"),
        ("plya", "play"),
    ],
)
def test_an_id_or_a_title_with_a_slip_is_recognised(given, meant):
    assert did_you_mean(given, KNOWN) == f"Did you mean {meant}?"


def test_where_nothing_is_near_the_choices_are_named():
    assert did_you_mean("zzz", KNOWN) == "Known are drum_by_hand, play"
    assert did_you_mean("zzz", []) == "None are known"
    many = [f"name{index:02}" for index in range(15)]
    assert did_you_mean("zzz", many) == f"Known are {', '.join(many[:12])} and 3 more"


@given(st.text(max_size=30), st.lists(st.text("abcde", min_size=1, max_size=6), max_size=20))
def test_any_text_is_answered(given, known):
    said = did_you_mean(given, known)
    assert said.startswith(("Did you mean", "Known are", "None are known"))
    if said.startswith("Did you mean"):
        assert said.removeprefix("Did you mean ").removesuffix("?") in known


@given(st.lists(st.text("abcde", min_size=3, max_size=8), min_size=1, max_size=9, unique=True))
def test_a_name_that_is_known_is_meant_by_itself(known):
    assert did_you_mean(known[0], known) == f"Did you mean {known[0]}?"
