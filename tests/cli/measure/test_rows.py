"""Rows of readings as they are typed."""

import math

import click
import pytest

from counterpoise.cli.measure.readings import ROW, Row, _finite


def read(row, text):
    return row.convert(text, None, None)


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("9.1", (9.1,)),
        ("9.1,8.4, 7.9", (9.1, 8.4, 7.9)),
        ("-0.4,0", (-0.4, 0.0)),
        ("2.1,open,OL", (2.1, math.inf, math.inf)),
        ("1e-3", (0.001,)),
    ],
)
def test_numbers_with_commas_between(text, row):
    assert read(ROW, text) == row


@pytest.mark.parametrize("mark", ["-", "_", "?"])
def test_a_missing_one_is_none_where_gaps_are_allowed(mark):
    assert read(Row(gaps=True), f"1,{mark},3") == (1.0, None, 3.0)
    with pytest.raises(click.UsageError):
        read(Row(), f"1,{mark},3")


@pytest.mark.parametrize("text", ["", "1,,3", "1;2", "nine", "9,1 8,4", "0x10"])
def test_a_word_that_is_no_number_is_named(text):
    with pytest.raises(click.UsageError, match="is no number"):
        read(ROW, text)


@pytest.mark.parametrize("text", ["1,2,3", "1,2,3,4,5", "1"])
def test_so_many_numbers_and_no_other_count(text):
    with pytest.raises(click.UsageError, match="give 4 with commas between"):
        read(Row(count=4), text)
    assert read(Row(count=4), "1,2,3,4") == (1.0, 2.0, 3.0, 4.0)


def test_a_row_that_was_read_is_not_read_again():
    # click converts defaults too, and hands on what is a row already
    assert read(ROW, (1.0, 2.0)) == (1.0, 2.0)


def test_json_has_the_word_of_the_meter_for_infinity():
    data = {"ohm": [2.1, math.inf], "pair": (-math.inf, 0.0), "word": "open", "none": None}
    assert _finite(data) == {
        "ohm": [2.1, "open"],
        "pair": ["open", 0.0],
        "word": "open",
        "none": None,
    }
