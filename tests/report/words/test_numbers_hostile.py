"""Numbers as typed by people in a hurry, and by those who mean harm."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.report.words import numbers


@given(st.integers(-(10**11), 10**11))
def test_an_amount_in_a_field_reads_back(minor):
    assert numbers.read_money(numbers.plain_money(minor), "x", negative=True) == minor


@given(st.integers(0, 10**9), st.sampled_from((".", ",")))
def test_point_and_comma_are_the_same(minor, mark):
    text = f"{minor // 100}{mark}{minor % 100:02d}"
    assert numbers.read_money(text, "x") == minor


@given(st.text(max_size=40))
def test_no_text_breaks_a_field(text):
    """Either a number comes out, or a refusal that names the field and says what to do."""
    try:
        value = numbers.read_number(text, "height", -5.0, 5.0)
    except InputError as error:
        refused = error
    else:
        assert -5.0 <= value <= 5.0
        return
    assert refused.field == "height"
    assert refused.remedy


@pytest.mark.parametrize(
    "text", ["nan", "inf", "-Infinity", "1e999", "", " ", "1" * 25, "12.3.4", "0x10"]
)
def test_what_is_no_number_is_refused(text):
    with pytest.raises(InputError, match="height"):
        numbers.read_number(text, "height", -1e9, 1e9)


@pytest.mark.parametrize(
    ("text", "said"),
    [("12.345", "parts of a cent"), ("-1", "below zero"), ("10000000000", "too large")],
)
def test_an_amount_that_cannot_be_is_refused_in_words(text, said):
    with pytest.raises(InputError, match=said):
        numbers.read_money(text, "price")


@given(st.floats(0.0, 1.0))
@example(0.005)
@example(0.995)
def test_a_probability_is_never_said_to_be_sure(probability):
    words = numbers.chance(probability)
    assert words.endswith(" %")
    assert words not in {"0 %", "100 %"}


@given(st.integers(-(10**7), 10**7), st.integers(-(10**7), 10**7))
def test_a_range_is_empty_exactly_where_both_ends_read_alike(low, high):
    words = numbers.reach(low, high, "EUR")
    assert (words == "") == (numbers.about(low, "EUR") == numbers.about(high, "EUR"))
    assert words.count("EUR") <= 1


@given(st.floats(0.0, 10_000.0))
def test_minutes_read_back_to_the_minute(minutes):
    words = numbers.minutes(minutes)
    if words == "under 1 min":
        assert 0 < minutes < 1
        return
    *hours, rest = (int(part) for part in words.replace("h", "").replace("min", "").split())
    assert 60 * (hours[0] if hours else 0) + rest == round(minutes)


def test_a_true_minus_is_written_and_read():
    assert numbers.number(-2.5) == "−2.5"
    assert numbers.read_number("−2,5", "x", -5, 5) == -2.5


@pytest.mark.parametrize(
    ("words", "joined"), [("Was it moved?", ""), ("Note:", ""), ("Look at the springs", ":")]
)
def test_a_question_needs_no_colon(words, joined):
    assert numbers.colon(words) == joined


def test_a_day_has_no_time_and_no_zone():
    assert numbers.day("2026-03-05") == "5 Mar 2026"
    assert numbers.when("2026-12-31T23:59:00") == "31 Dec 2026, 23:59"
