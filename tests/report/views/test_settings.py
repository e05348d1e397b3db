"""Settings in words, as they are typed and shown."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.report.views.settings import (
    CHOICE_WORDS,
    GROUPS,
    LABELS,
    read_setting,
    setting_text,
)


def test_every_setting_stands_in_one_group():
    listed = [name for names in GROUPS.values() for name in names]
    assert len(listed) == len(set(listed))


def test_money_says_its_currency_where_the_workshop_sees_it():
    money = [name for name in LABELS if name.endswith("_minor")]
    assert money
    assert all("{currency}" in LABELS[name] for name in money)


@pytest.mark.parametrize(
    ("name", "typed", "stored"),
    [
        ("bench_rate_minor", "24,50", 2450),
        ("scrap_minor", "-12", -1200),
        ("people", "2", 2),
        ("tax_percent", "19.5", 19.5),
        ("careful", "Yes", True),
        ("careful", "0", False),
        ("tools", " pliers , gauge,", ["pliers", "gauge"]),
        ("tools", " ", None),
        ("workshop_name", "  Back Bench ", "Back Bench"),
        ("rounding", "half_up", "half_up"),
    ],
)
def test_what_is_typed_is_what_is_stored(name, typed, stored):
    value = read_setting(name, typed)
    assert value == stored
    assert type(value) is type(stored)


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("no_such", "1", "no such setting"),
        ("careful", "perhaps", "neither yes nor no"),
        ("people", "two", "not a number"),
        ("bench_rate_minor", "12.345", "parts of a cent"),
    ],
)
def test_what_cannot_be_is_refused_by_name(name, typed, said):
    with pytest.raises(InputError, match=said) as refused:
        read_setting(name, typed)
    assert refused.value.field == name


@given(st.integers(-(10**7), 10**7))
def test_any_amount_reads_back(minor):
    assert read_setting("scrap_minor", setting_text("scrap_minor", minor)) == minor


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, ""), (True, "yes"), (False, "no"), (2.50, "2.5"), (("a", "b"), "a, b")],
)
def test_a_value_in_its_field(value, text):
    assert setting_text("tools", value) == text


def test_a_choice_reads_as_words():
    assert CHOICE_WORDS["half_even"] == "half a cent to the even one"


@pytest.mark.parametrize("text", ["0", "9.99", "100000.01", "-5"])
def test_a_new_machine_costs_something_said_as_it_is_typed(text):
    with pytest.raises(InputError, match="is out of range") as refused:
        read_setting("new_machine_minor", text)
    assert refused.value.remedy == "Give an amount from 10.00 to 100000.00."
