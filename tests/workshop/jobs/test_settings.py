"""Settings: each limit holds on its edge and not beyond; stored and read they stay the same."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterpoise.errors import InputError
from counterpoise.money.amount import ROUNDINGS
from counterpoise.workshop.jobs.fields import Range, Whole, fields_of, mark_of
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.jobs.settings_checks import CHOICES, changed, to_json

# what is set for a family is set as FAMILY.NAME; its own tests stand in test_family_money
FIELDS = {field.name: field for field in fields_of(Settings) if field.name != "by_family"}
LIMITS = {name: mark_of(field.hint, Range) for name, field in FIELDS.items()}
NUMBERS = sorted(name for name, limits in LIMITS.items() if limits)
SWITCHES = sorted(name for name, field in FIELDS.items() if field.bare is bool)


@pytest.mark.parametrize("name", NUMBERS)
def test_a_number_may_stand_on_its_limits_but_not_beyond(name):
    limits = LIMITS[name]
    for value in (limits.low, limits.high):
        assert getattr(changed(Settings(), {name: value}), name) == value
    for value in (limits.low - 1, limits.high + 1, math.nan, math.inf):
        with pytest.raises(InputError) as caught:
            changed(Settings(), {name: value})
        assert caught.value.field == name
        assert f"from {limits.low} to {limits.high}" in caught.value.remedy


@pytest.mark.parametrize("name", NUMBERS)
def test_counts_and_money_are_whole_the_rest_need_not_be(name):
    limits, middle = LIMITS[name], LIMITS[name].low + 0.25
    assert isinstance(limits, Whole) == (FIELDS[name].bare is int)
    if isinstance(limits, Whole):
        with pytest.raises(InputError, match="not a whole number"):
            changed(Settings(), {name: middle})
        assert type(getattr(changed(Settings(), {name: float(limits.high)}), name)) is int
    else:
        assert getattr(changed(Settings(), {name: middle}), name) == middle


def test_money_is_counted_in_whole_minor_units_everywhere():
    assert all(isinstance(LIMITS[name], Whole) for name in FIELDS if name.endswith("_minor"))


@pytest.mark.parametrize("name", SWITCHES)
def test_a_switch_is_on_or_off(name):
    assert getattr(changed(Settings(), {name: True}), name) is True
    for wrong in (1, 0, "yes", None):
        with pytest.raises(InputError, match="yes or no"):
            changed(Settings(), {name: wrong})


@pytest.mark.parametrize("name", CHOICES)
def test_a_choice_is_one_of_those_that_the_money_room_knows(name):
    for choice in CHOICES[name]:
        assert getattr(changed(Settings(), {name: choice}), name) == choice
    with pytest.raises(InputError) as caught:
        changed(Settings(), {name: "otherwise"})
    assert all(choice in caught.value.remedy for choice in CHOICES[name])
    assert getattr(Settings(), name) in CHOICES[name]


def test_roundings_are_those_of_the_money_room():
    assert CHOICES["rounding"] == ROUNDINGS


@pytest.mark.parametrize("currency", ["EUR", "USD", "ZMW", "CHF"])
def test_a_currency_with_a_hundred_cents_can_be_used(currency):
    assert changed(Settings(), {"currency": f" {currency} "}).currency == currency


@pytest.mark.parametrize("currency", ["JPY", "KWD", "eur", "EU", "EURO", ""])
def test_another_currency_cannot(currency):
    with pytest.raises(InputError) as caught:
        changed(Settings(), {"currency": currency})
    assert caught.value.field == "currency"


@given(st.sampled_from(NUMBERS), st.data())
def test_what_is_stored_is_what_is_read(name, data):
    limits = LIMITS[name]
    within = (
        st.integers(int(limits.low), int(limits.high))
        if isinstance(limits, Whole)
        else st.floats(limits.low, limits.high)
    )
    settings = changed(Settings(), {name: data.draw(within)})
    stored = json.loads(json.dumps(to_json(getattr(settings, name))))
    assert changed(Settings(), {name: stored}) == settings


def test_the_defaults_can_be_stored_and_read_too():
    stored = {name: to_json(getattr(Settings(), name)) for name in FIELDS}
    assert changed(Settings(people=7), json.loads(json.dumps(stored))) == Settings()


def test_tools_are_a_list_of_names_or_all_there_are():
    assert changed(Settings(), {"tools": ["torx", "puller"]}).tools == ("torx", "puller")
    assert changed(Settings(tools=("torx",)), {"tools": None}).tools is None
    with pytest.raises(InputError, match=r"tools\[1\]: a text is expected"):
        changed(Settings(), {"tools": ["torx", 3]})


def test_one_wrong_change_spoils_all_of_them():
    before = Settings()
    with pytest.raises(InputError):
        changed(before, {"people": 3, "tax_percent": 200})
    assert before == Settings()
