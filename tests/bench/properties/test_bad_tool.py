"""Pairs of readings that mean a bad tool or a wrong sign are asked about; sound ones are not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.bench.slopes import LARGEST_OWN_DEG, reversal, tool_questions

SLOPES = st.floats(-3, 3)


def own(first, turned):
    return reversal(first, turned).own_error


@given(SLOPES, SLOPES, st.floats(-LARGEST_OWN_DEG, LARGEST_OWN_DEG))
def test_a_tool_with_a_small_error_of_its_own_is_never_asked_about(across, along, error):
    pairs = {
        "front": own(across + error, -across + error),
        "left": own(along + error, -along + error),
    }
    assert tool_questions(pairs) == ()


@given(SLOPES, st.floats(LARGEST_OWN_DEG + 0.01, 5) | st.floats(-5, -LARGEST_OWN_DEG - 0.01))
def test_a_tool_that_is_off_by_more_is(slope, error):
    (question,) = tool_questions({"rear": own(slope + error, -slope + error)})
    assert "at the rear" in question
    assert f"{abs(error):.1f} degrees" in question
    assert question.endswith("take another tool.")


@given(st.floats(0.4, 0.9), SLOPES)
def test_a_sign_written_as_the_machine_leans_is_asked_about(across, along):
    # the second reading of the front has the sign of the first; the left was read as asked
    (question,) = tool_questions({"front": own(across, across), "left": own(along, -along)})
    assert "at the front" in question
    assert "a sign left out" in question


@pytest.mark.parametrize("pairs", [{}, {"front": own(0.8, -0.4)}, {"left": own(0.1, 0.1)}])
def test_nothing_is_asked_where_nothing_can_be_told(pairs):
    assert tool_questions(pairs) == ()
