"""What a kind of machine is worth, set and taken back at the terminal, each figure with its origin."""

from dataclasses import replace

import pytest
from tests.web.workbench import FAMILY, INTAKE, OTHER, ForeseeableWorkshop

from counterpoise.catalog.family import MoneyEntry
from counterpoise.workshop.jobs.settings import BY_FAMILY

MONEY = MoneyEntry(
    "life_shape: invented; otherwise: from memory",
    30000,
    8000,
    9.0,
    15.0,
    -500,
    4000,
    20.0,
    14.0,
    3.0,
    12.0,
)
KNOWN = {"bench": replace(FAMILY, money=MONEY), "other": OTHER}


def flat(text):
    return " ".join(text.split())


@pytest.fixture
def workshop(workshop):
    """The same store with two kinds: one says what it is worth, one says nothing."""
    return ForeseeableWorkshop(workshop.store, KNOWN)


def test_each_figure_of_a_kind_says_where_it_is_from(ask, run):
    ask("settings", "set", "bench.scrap_minor=-12.50", "bench.days_to_sell=30")
    told = ask("settings", "show", "--family", "bench")[1]
    assert [line["name"] for line in told["figures"]] == list(BY_FAMILY)
    origins = {line["name"]: line["origin"] for line in told["figures"]}
    assert origins == dict.fromkeys(BY_FAMILY, "family") | {
        "scrap_minor": "workshop",
        "days_to_sell": "workshop",
    }
    assert told["assumed"] == ""
    text = flat(run("settings", "show", "--family", "bench")[1])
    assert "bench.resale_new_minor: 80.00 (by the family file, from memory)" in text
    assert "bench.scrap_minor = -12.50 (set by this workshop; the family file says" in text
    assert "bench.days_to_sell = 30 (set by this workshop; the family file says 14)" in text
    silent = ask("settings", "show", "--family", "other")[1]
    assert {line["origin"] for line in silent["figures"]} == {"general"}
    assert "620.00 EUR" in silent["assumed"]
    assert flat(silent["assumed"]) in flat(run("settings", "show", "--family", "other")[1])
    # all kinds stand below the settings
    everything = flat(run("settings", "show")[1])
    assert "bench.life_shape: 3" in everything
    assert "other.life_shape: 2.2 (assumed" in everything


def test_a_figure_set_for_a_kind_is_taken_back_to_that_of_its_file(ask):
    before = ask("settings", "show")[1]
    code, after = ask("settings", "set", "bench.resale_new_minor=120", "bench.life_shape=2,5")
    assert code == 0
    assert after["by_family"] == [
        {"family": "bench", "name": "life_shape", "value": 2.5},
        {"family": "bench", "name": "resale_new_minor", "value": 12000},
    ]
    assert ask("settings", "unset", "bench.resale_new_minor", "bench.life_shape") == (0, before)
    # what was never set is taken back without harm
    assert ask("settings", "unset", "bench.life_shape") == (0, before)


@pytest.mark.parametrize(
    ("words", "field", "said"),
    [
        (("set", "bunch.scrap_minor=1"), "bunch.scrap_minor", "Did you mean bench"),
        (("set", "bench.scrap=1"), "bench.scrap", "scrap_minor"),
        (("set", "bench.tax_percent=1"), "bench.tax_percent", "Set tax_percent"),
        (("set", ".scrap_minor=1"), ".scrap_minor", "FAMILY.scrap_minor"),
        (("set", "bench.scrap_minor=cheap"), "bench.scrap_minor", "digits"),
        (("set", "bench.new_machine_minor=1"), "bench.new_machine_minor", "from 10.00"),
        (("set", "bench.life_scale_years=0"), "bench.life_scale_years", "from 0.5 to 100"),
        (("unset", "scrap_minor"), "scrap_minor", "FAMILY.scrap_minor"),
        (("unset", "bunch.scrap_minor"), "bunch.scrap_minor", "Did you mean bench"),
        (("unset", "bench.scrap"), "bench.scrap", "scrap_minor"),
        (("show", "--family", "bunch"), "family", "Did you mean bench"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_changes_nothing(ask, words, field, said):
    before = ask("settings", "show")[1]
    code, told = ask("settings", *words)
    assert (code, told["field"]) == (2, field)
    assert said in told["remedy"]
    assert ask("settings", "show")[1] == before


def test_what_is_left_of_a_family_that_is_gone_can_be_taken_back(ask, workshop):
    workshop.store.settings.change({"gone.scrap_minor": -300})
    assert ask("settings", "show")[1]["by_family"]
    assert ask("settings", "unset", "gone.scrap_minor")[1]["by_family"] == []


def test_a_general_setting_says_which_kinds_it_does_not_reach(run):
    text = flat(run("settings", "set", "resale_new_minor=300")[1])
    assert "resale_new_minor changes nothing for bench" in text
    assert "bench.resale_new_minor" in text
    assert "changes nothing" not in run("settings", "set", "people=3")[1]


def test_worth_asks_which_kind_where_there_are_several(ask, run):
    code, told = ask("worth", "--age", 9, "--price", 50)
    assert (code, told["field"]) == (2, "family")
    assert "bench, other" in told["remedy"]
    own, silent = (
        ask("worth", "--age", 9, "--price", 50, "--family", kind)[1] for kind in ("bench", "other")
    )
    assert own["rules"][1]["limit_minor"] == 15000
    assert silent["rules"][1]["limit_minor"] == 31000
    assert [line["origin"] for line in own["figures"]] == ["family"] * 3
    assert own["assumed"] == ""
    text = flat(run("worth", "--age", 9, "--price", 50, "--family", "other")[1])
    assert "a comparable new machine 620.00 EUR: assumed" in text
    assert flat(silent["assumed"]) in text


def test_what_is_assumed_is_said_with_job_yard_and_guarantee(run, workshop):
    for number, kind in enumerate(("bench", "other"), 1):
        workshop.jobs.open(replace(INTAKE, family=kind))
        said = "Assumed: " in run("job", "next", number)[1]
        assert said == (kind == "other")
        told = flat(run("guarantee", "--family", kind)[1])
        assert ("general figures are taken" in told) == (kind == "other")
    text = flat(run("yard")[1])
    assert text.count("Assumed:") == 1
    assert OTHER.title in text.partition("Assumed:")[2]
