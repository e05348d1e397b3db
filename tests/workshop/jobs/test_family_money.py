"""What a family's machines are worth: the workshop's figure, else the file's, else the general one."""

import json
from dataclasses import replace
from itertools import permutations

import pytest
from tests.workshop.small import FAMILY

from counterpoise.catalog.family import MoneyEntry
from counterpoise.catalog.loader import families, load_family
from counterpoise.catalog.schema.money import MoneyModel
from counterpoise.errors import InputError
from counterpoise.workshop.jobs.family_money import FamilyMoney, figures_of, money_of
from counterpoise.workshop.jobs.fields import Range, fields_of, mark_of
from counterpoise.workshop.jobs.settings import BY_FAMILY, FamilySetting, Settings, split_key
from counterpoise.workshop.jobs.settings_checks import changed

OF_FILE = MoneyEntry(
    "life_shape: wang2013; otherwise: from memory", resale_new_minor=9000, life_shape=3.0
)
FILED = replace(FAMILY, money=OF_FILE)
LIMITS = {field.name: mark_of(field.hint, Range) for field in fields_of(Settings)}


def figure(family, settings, name):
    return next(each for each in figures_of(family, settings) if each.name == name)


@pytest.mark.parametrize("name", BY_FAMILY)
def test_a_family_without_a_word_on_money_is_reckoned_with_the_general_settings(name):
    settings = changed(Settings(), {name: LIMITS[name].high})
    assert getattr(money_of(FAMILY, settings), name) == LIMITS[name].high
    assert figure(FAMILY, settings, name).origin == "general"


@pytest.mark.parametrize("name", BY_FAMILY)
def test_a_familys_file_goes_before_the_general_settings_and_the_workshop_before_both(name):
    own = replace(FAMILY, money=replace(MoneyEntry("invented"), **{name: LIMITS[name].low}))
    general = changed(Settings(), {name: LIMITS[name].high})
    assert getattr(money_of(own, general), name) == LIMITS[name].low
    assert figure(own, general, name).origin == "family"
    middle = int((LIMITS[name].low + LIMITS[name].high) / 2)
    here = changed(general, {f"small.{name}": middle})
    assert getattr(money_of(own, here), name) == middle
    told = figure(own, here, name)
    assert (told.origin, told.of_family) == ("workshop", LIMITS[name].low)
    # what is set for one family reaches no other, and can be taken back
    assert money_of(replace(own, id="other"), here) == money_of(own, general)
    assert changed(here, {f"small.{name}": None}) == general


def test_figures_that_the_file_leaves_out_are_assumed_one_by_one():
    origins = {each.name: each.origin for each in figures_of(FILED, Settings())}
    assert {name for name, origin in origins.items() if origin == "family"} == {
        "resale_new_minor",
        "life_shape",
    }
    assert figure(FILED, Settings(), "life_shape").source == "wang2013"
    assert figure(FILED, Settings(), "resale_new_minor").source == "from memory"
    assert MoneyEntry("invented").source_of("scrap_minor") == "invented"


def test_the_figures_are_those_that_can_be_set():
    assert tuple(FamilyMoney.__dataclass_fields__) == BY_FAMILY
    assert set(MoneyModel.model_fields) == {*BY_FAMILY, "source"}
    assert set(MoneyEntry.__dataclass_fields__) == {*BY_FAMILY, "source"}


@pytest.mark.parametrize("name", BY_FAMILY)
def test_a_file_may_say_what_can_be_set_and_nothing_beyond(name):
    numbers = MoneyModel.model_json_schema()["properties"][name]["anyOf"][0]
    limits = LIMITS[name]
    assert (numbers["minimum"], numbers["maximum"]) == (limits.low, limits.high)


@pytest.mark.parametrize("family", families())
def test_every_shipped_family_says_what_its_machines_are_worth(family):
    known = load_family(family)
    assert {each.origin for each in figures_of(known, Settings())} == {"family"}
    assert all(each.source for each in figures_of(known, Settings()))


@pytest.mark.parametrize("family", ["front_loader", "top_loader"])
def test_washing_machines_are_worth_what_the_settings_said_of_all(family):
    general = money_of(FAMILY, Settings())
    assert money_of(load_family(family), Settings()) == general


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("small.tax_percent", 7, "holds for the whole workshop"),
        ("small.by_family", 7, "no such setting"),
        ("by_family", [], "no such setting"),
        ("small.scrap", 7, "no such setting"),
        (".scrap_minor", 7, "no family of machines is named"),
        ("small.scrap_minor", "dear", "not a number"),
        ("small.scrap_minor", 0.5, "not a whole number"),
        ("small.life_shape", 0, "out of range"),
        ("small.life_shape", True, "not a number"),
    ],
)
def test_what_cannot_be_set_for_a_family_is_refused_by_its_key(key, value, said):
    with pytest.raises(InputError, match=said) as refused:
        changed(Settings(), {key: value})
    assert refused.value.field == key
    assert refused.value.remedy


def test_the_same_settings_are_equal_in_whatever_order_they_were_made():
    made = [("small.scrap_minor", 5), ("other.scrap_minor", 6), ("small.days_to_sell", 7)]
    ways = {changed(Settings(), dict(order)) for order in permutations(made)}
    assert len(ways) == 1
    (settings,) = ways
    assert json.loads(json.dumps([each.key for each in settings.by_family])) == sorted(
        key for key, _ in made
    )
    assert settings.set_for("small", "scrap_minor") == 5
    assert settings.set_for("small", "life_shape") is None


def test_an_id_with_points_is_read_from_the_left():
    assert split_key("a.b.scrap_minor") == ("a.b", "scrap_minor")
    assert FamilySetting("a.b", "scrap_minor", 1).key == "a.b.scrap_minor"
