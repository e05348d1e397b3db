"""Amounts as they are written: read back to what they were, whatever the currency and the sign."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money.amount import EXPONENTS, MINUS, read, show, show_about
from counterpoise.money.shelf import Holding, effect
from counterpoise.report.words import numbers

CURRENCIES = st.sampled_from(sorted(EXPONENTS))
AMOUNTS = st.integers(-(10**9), 10**9)


@given(AMOUNTS, CURRENCIES)
def test_an_amount_is_read_as_it_is_shown(minor, currency):
    assert read(show(minor, currency), currency) == minor


@given(st.integers(-(10**9), -1), CURRENCIES)
def test_a_loss_has_a_true_minus_once(minor, currency):
    text = show(minor, currency)
    assert text.startswith(MINUS)
    assert "-" not in text
    assert text.count(MINUS) == 1


def test_page_and_sentence_write_by_the_same_function():
    assert numbers.money is show
    assert numbers.about is show_about


@pytest.mark.parametrize("held", [{}, {2: 5}, {1: 2}])
def test_no_more_is_let_go_than_is_reserved(held):
    with pytest.raises(InputError, match="3 cannot be let go: 9 on the shelf") as refused:
        effect(Holding(9, held), "released", 3, 1)
    assert refused.value.field == "count"
    assert refused.value.remedy


def test_all_that_is_reserved_can_be_let_go():
    assert effect(Holding(9, {1: 2}), "released", 2, 1) == (0, -2)
