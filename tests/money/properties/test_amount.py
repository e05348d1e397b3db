import decimal
import doctest
import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money import amount
from counterpoise.money.amount import (
    EXPONENTS,
    ROUNDINGS,
    percent,
    read,
    round_lines,
    round_minor,
    show,
    split,
    to_step,
)

JUDGE = {
    "half_up": decimal.ROUND_HALF_UP,
    "half_even": decimal.ROUND_HALF_EVEN,
    "half_down": decimal.ROUND_HALF_DOWN,
    "up": decimal.ROUND_UP,
    "down": decimal.ROUND_DOWN,
}
fractions = st.fractions(min_value=-(10**7), max_value=10**7, max_denominator=10**4)
decimals = st.decimals(min_value=-(10**8), max_value=10**8, places=3)
modes = st.sampled_from(ROUNDINGS)


@given(decimals, modes)
def test_rounding_as_the_decimal_module_does(value, mode):
    assert round_minor(value, mode) == int(value.quantize(Decimal(1), rounding=JUDGE[mode]))


@given(st.lists(fractions, min_size=1, max_size=12), modes)
def test_lines_add_up_to_the_total_in_every_mode(lines, mode):
    rounded, total = round_lines(lines, mode)
    assert sum(rounded) == total == round_minor(sum(lines), mode)
    assert all(abs(whole - line) < 1 for whole, line in zip(rounded, lines, strict=True))


@given(
    st.integers(-(10**9), 10**9),
    st.lists(st.integers(0, 10**6), min_size=1, max_size=9).filter(any),
)
def test_a_split_adds_up_and_is_fair(total, weights):
    shares = split(total, weights)
    assert sum(shares) == total
    exact = [Fraction(total * weight, sum(weights)) for weight in weights]
    assert all(abs(share - fair) < 1 for share, fair in zip(shares, exact, strict=True))
    assert all(share == 0 for share, weight in zip(shares, weights, strict=True) if weight == 0)


@given(st.integers(-(10**12), 10**12), st.sampled_from(sorted(EXPONENTS)))
def test_what_is_shown_can_be_read_back(minor, currency):
    text = show(minor, currency).replace("\N{NO-BREAK SPACE}", "")
    assert read(text, currency) == minor
    assert read(text.replace(".", ","), currency) == minor


@given(st.integers(-(10**6), 10**6), st.integers(1, 500), modes)
def test_cash_steps(minor, step, mode):
    rounded = to_step(minor, step, mode)
    assert rounded % step == 0
    assert abs(rounded - minor) < step


def test_percentages_are_meant_as_written():
    assert percent(1000, 19.6) == 196
    assert percent(100, 0.1) == Fraction(1, 10)


def test_known_exponents():
    """ISO 4217: two digits, none, three, four."""
    assert [EXPONENTS[code] for code in ("EUR", "USD", "JPY", "KRW", "KWD", "TND", "CLF")] == [
        2,
        2,
        0,
        0,
        3,
        3,
        4,
    ]


@pytest.mark.parametrize(
    "text", ["", "abc", "1.234", "1,234.50", "1e3", "--5", "12 EURO", "5.", "nan"]
)
def test_unclear_amounts_are_refused(text):
    with pytest.raises(InputError):
        read(text, "EUR")


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: show(1, "XXQ"),
        lambda: round_minor(math.inf),
        lambda: split(5, []),
        lambda: split(5, [0, 0]),
        lambda: split(5, [1, -1]),
        lambda: to_step(5, 0),
        lambda: amount.settle([Fraction(1, 2)], 7),
    ],
)
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(InputError):
        wrong()


def test_examples_in_the_docstrings():
    found = doctest.testmod(amount)
    assert found.attempted > 0
    assert found.failed == 0
