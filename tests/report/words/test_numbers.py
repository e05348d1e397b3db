import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.report.views import settings as told
from counterpoise.report.words import numbers as words
from counterpoise.workshop.jobs.settings import Settings


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (words.money(-1420, "EUR"), "−14.20 EUR"),
        (words.money(1234567, "EUR"), "12 345.67 EUR"),
        (words.about(-49, "EUR"), "0 EUR"),
        (words.about(9650, "EUR"), "96 EUR"),
        (words.reach(2000, 15000, "EUR"), "20 to 150 EUR"),
        (words.reach(2000, 2010, "EUR"), ""),
        (words.minutes(0), "0 min"),
        (words.minutes(0.4), "under 1 min"),
        (words.minutes(59.6), "1 h 00 min"),
        (words.minutes(65), "1 h 05 min"),
        (words.chance(0.0), "under 1 %"),
        (words.chance(0.384), "38 %"),
        (words.chance(1.0), "over 99 %"),
        (words.age(None), "age not known"),
        (words.age(1.0), "1 year"),
        (words.age(6.5), "6.5 years"),
        (words.number(-0.25), "−0.25"),
    ],
)
def test_numbers_are_said_plainly(said, expected):
    assert said == expected


@given(st.integers(-(10**11), 10**11))
def test_money_reads_back_as_it_was_written(minor):
    assert words.read_money(words.plain_money(minor), "price", negative=True) == minor


@given(st.text(max_size=30))
def test_any_text_is_an_amount_or_an_error_that_names_its_field(text):
    try:
        read, field = words.read_money(text, "price"), "price"
    except InputError as error:
        read, field = 0, error.field
    assert field == "price"
    assert 0 <= read <= 10**11


def test_every_setting_has_its_words_and_its_place():
    names = {name for names in told.GROUPS.values() for name in names}
    # what is set for a family has the words of the same name
    assert names == set(told.LABELS) == set(Settings.__dataclass_fields__) - {"by_family"}


@pytest.mark.parametrize("name", sorted(told.LABELS))
def test_a_setting_reads_back_as_it_was_shown(name):
    value = getattr(Settings(tools=("pliers", "gauge")), name)
    read = told.read_setting(name, told.setting_text(name, value))
    assert (tuple(read) if name == "tools" else read) == value
