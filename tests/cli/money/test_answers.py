"""Settings, yard, ledger, guarantee and worth: JSON with its keys, the same in the terminal."""

import csv

import pytest

from counterpoise.report.words.numbers import money, plain_money


def flat(text):
    return " ".join(text.split())


def test_every_setting_is_shown_in_both_ways(ask, run):
    shown = ask("settings", "show")[1]
    text = run("settings", "show")[1]
    assert shown.pop("by_family") == []
    for name in shown:
        assert f"  {name} = " in text
    assert f"labour_rate_minor = {shown['labour_rate_minor'] / 100:.2f}" in text
    assert f"people = {shown['people']}" in text


@pytest.mark.parametrize(
    ("change", "value"),
    [
        ("people=3", 3),
        ("labour_rate_minor=52,50", 5250),
        ("labour_rate_minor=52.5", 5250),
        ("careful=yes", True),
        ("careful=no", False),
        ("tax_percent=19", 19.0),
        ("workshop_name=The Yard", "The Yard"),
        ("scrap_minor=-12.50", -1250),
    ],
)
def test_a_setting_that_is_set_is_the_only_one_that_changed(ask, change, value):
    before = ask("settings", "show")[1]
    code, after = ask("settings", "set", change)
    name = change.partition("=")[0]
    assert (code, after[name]) == (0, value)
    assert {key: after[key] for key in after if key != name} == {
        key: before[key] for key in before if key != name
    }
    assert ask("settings", "show")[1] == after


def test_the_last_of_a_name_holds(ask):
    assert ask("settings", "set", "people=3", "people=4")[1]["people"] == 4


def test_what_the_terminal_shows_can_be_set_again(ask, run):
    """Every line ``name = value`` of ``settings show`` is a change that changes nothing."""
    before = ask("settings", "show")[1]
    lines = [
        line.strip().partition(" (")[0].partition(" = ")
        for line in run("settings", "show")[1].splitlines()
        if " = " in line
    ]
    changes = [f"{name}={value}" for name, _, value in lines if value]
    assert len(changes) > 30
    assert ask("settings", "set", *changes) == (0, before)


def test_an_empty_ledger_and_an_empty_yard_are_said(ask, run):
    ledger = ask("ledger")[1]
    assert (ledger["lines"], ledger["received_minor"]) == ([], 0)
    assert "No job was closed in this month." in run("ledger")[1]
    yard = ask("yard")[1]
    assert (yard["bench"], yard["fits"], yard["fits_minutes"]) == ([], [], 0)
    assert "No machine waits for the bench." in run("yard")[1]


def test_the_ledger_adds_up_and_is_said_alike(ask, run, number, tmp_path):
    ask("job", "record", number, "new_place", "no", "--minutes", 30)
    ask("job", "close", number, "repair_hand_back", "--received", "120.50")
    ask("job", "new", "--family", "bench", "--title", "A second one", "--complaint", "shakes")
    ask("job", "close", 2, "scrap", "--received", "-10")
    file = tmp_path / "march.csv"
    ledger = ask("ledger", "2026-03", "--csv", file)[1]
    assert (ledger["month"], [line["number"] for line in ledger["lines"]]) == ("2026-03", [1, 2])
    for figure in ("received_minor", "tax_minor", "parts_minor", "bench_minor", "margin_minor"):
        assert sum(line[figure] for line in ledger["lines"]) == ledger[figure]
    assert (ledger["received_minor"], ledger["bench_minutes"]) == (11050, 30)
    text = flat(run("ledger", "2026-03")[1])
    for minor in (ledger["received_minor"], ledger["margin_minor"]):
        assert money(minor, "EUR") in text
    for line in ledger["lines"]:
        assert f"No. {line['number']} {line['title'][:20]}" in text
        assert money(line["margin_minor"], "EUR") in text
    rows = list(csv.reader(file.read_text("utf-8").splitlines()))
    assert [row[0] for row in rows[1:3]] == ["1", "2"]


def test_another_month_has_none_of_it(ask, number):
    ask("job", "close", number, "scrap", "--received", "5")
    assert ask("ledger", "2026-02")[1]["lines"] == []
    assert len(ask("ledger")[1]["lines"]) == 1


def test_the_yard_fills_no_more_than_the_hours(ask, number):
    for _ in range(3):
        ask("job", "new", "--family", "bench", "--complaint", "shakes")
    for hours in (0, 0.5, 1, 2, 168):
        yard = ask("yard", "--hours", hours)[1]
        assert yard["hours"] == hours
        assert yard["fits_minutes"] <= 60 * hours
        assert sum(job["minutes"] for job in yard["fits"]) == yard["fits_minutes"]
        assert {job["number"] for job in yard["fits"]} <= {job["number"] for job in yard["bench"]}
        assert len(yard["fits"]) == min(4, int(60 * hours // 40))


def test_a_job_that_waits_for_parts_does_not_wait_for_the_bench(ask, run, number):
    ask("job", "note", number, "ordered", "--parts-due", "2026-03-09")
    yard = ask("yard")[1]
    assert [job["number"] for job in yard["waits"]] == [number]
    assert yard["bench"] == []
    assert "Waits for parts, due 9 Mar 2026: No. 1" in flat(run("yard")[1])


def test_a_longer_guarantee_costs_more_and_is_said_alike(ask, run):
    answer = ask("guarantee", "--family", "bench", "--age", 6)[1]
    text = flat(run("guarantee", "--family", "bench", "--age", 6)[1])
    assert answer["months"] == sorted(answer["months"])
    for terms in (*answer["repairs"], answer["machine"]):
        assert terms["cost_minor"] == sorted(terms["cost_minor"])
        assert all(map(int.__le__, terms["cost_minor"], terms["price_minor"]))
        assert terms["longest_months"] is None
        for minor in terms["price_minor"]:
            assert plain_money(minor) in text


def test_more_money_never_buys_a_shorter_guarantee(ask):
    longest = [
        ask("guarantee", "--family", "bench", "--price", price)[1]["machine"]["longest_months"]
        for price in ("0", "1", "5", "25", "100")
    ]
    assert longest == sorted(longest)
    assert longest[0] < longest[-1]


@pytest.mark.parametrize("age", [0, 6, 15])
def test_worth_says_its_figures_in_both_ways(ask, run, age):
    answer = ask("worth", "--age", age, "--price", 150, "--used", 80)[1]
    text = flat(run("worth", "--age", age, "--price", 150, "--used", 80)[1])
    for sentence in answer["sentences"]:
        assert sentence in text
    for rule in answer["rules"]:
        assert f"{rule['title']}: up to {round(rule['limit_minor'] / 100)} EUR" in text
        assert rule["why"] in text


def test_an_older_machine_has_fewer_years_left(ask):
    years = [ask("worth", "--age", age, "--price", 150)[1]["years_left"] for age in (1, 5, 9, 20)]
    assert years == sorted(years, reverse=True)
