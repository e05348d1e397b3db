"""What a kind of machine is worth, on the settings page and where machines are weighed."""

from dataclasses import replace

import pytest
from tests.web.workbench import FAMILY, INTAKE, OTHER, ForeseeableWorkshop

from counterpoise.catalog.family import MoneyEntry
from counterpoise.workshop.jobs.settings import BY_FAMILY, Settings

MONEY = MoneyEntry("from memory", 30000, 8000, 9.0, 15.0, -500, 4000, 20.0, 14.0, 3.0, 12.0)
KNOWN = {"bench": replace(FAMILY, money=MONEY), "other": OTHER}


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, KNOWN)


def form(client, **given):
    """The settings page as somebody sends it: every field as it stands, those ``given`` typed over."""
    from counterpoise.report.views.settings import LABELS, setting_text

    now = client.app.state.workshop.settings()
    sent = {name: setting_text(name, getattr(now, name)) for name in LABELS}
    # a box that is not ticked is not sent
    sent = {name: text for name, text in sent.items() if text != "no"}
    for family in KNOWN:
        for name in BY_FAMILY:
            sent[f"{family}.{name}"] = setting_text(name, now.set_for(family, name))
    return sent | {name.replace("__", "."): text for name, text in given.items()}


def test_the_page_shows_each_figure_with_its_origin(client):
    client.post("/api/settings", json={"changes": {"bench.scrap_minor": -1250}})
    page = client.get("/settings").text
    for name in BY_FAMILY:
        assert page.count(f'name="bench.{name}"') == page.count(f'name="other.{name}"') == 1
    assert 'name="bench.scrap_minor" value="-12.50" placeholder="-5.00"' in page
    assert 'name="bench.resale_new_minor" value="" placeholder="80.00"' in page
    assert "by the family file, from memory" in page
    assert "set by this workshop; the family file says" in page
    assert "general figures are taken" in page


def test_a_form_sets_a_figure_and_an_emptied_field_goes_back(client, workshop):
    assert client.post("/settings", data=form(client, bench__days_to_sell="7")).status_code == 303
    assert [(s.key, s.value) for s in workshop.settings().by_family] == [
        ("bench.days_to_sell", 7.0)
    ]
    # sent as it stands it changes nothing
    assert client.post("/settings", data=form(client)).status_code == 303
    assert workshop.settings().set_for("bench", "days_to_sell") == 7.0
    assert client.post("/settings", data=form(client, bench__days_to_sell="")).status_code == 303
    assert workshop.settings() == Settings()


def test_a_form_with_a_wrong_figure_changes_nothing_and_names_it(client, workshop):
    answer = client.post("/settings", data=form(client, other__life_shape="0"))
    assert answer.status_code == 422
    assert "other.life_shape" in answer.text
    assert workshop.settings() == Settings()


def test_a_program_sets_and_takes_back_by_family(client):
    sent = {"bench.resale_new_minor": 12000, "other.scrap_minor": -700}
    told = client.post("/api/settings", json={"changes": sent}).json()
    assert told["by_family"] == [
        {"family": "bench", "name": "resale_new_minor", "value": 12000},
        {"family": "other", "name": "scrap_minor", "value": -700},
    ]
    assert client.get("/api/settings").json() == told
    bench, other = told["families"]
    assert [bench["family"], other["family"]] == ["bench", "other"]
    assert {line["name"]: line["origin"] for line in bench["figures"]}[
        "resale_new_minor"
    ] == "workshop"
    assert bench["assumed"] == ""
    assert "-7.00" not in other["assumed"]
    back = client.post("/api/settings", json={"changes": dict.fromkeys(sent)}).json()
    assert back["by_family"] == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"bunch.scrap_minor": 1}, "bunch.scrap_minor"),
        ({"bench.scrap": 1}, "bench.scrap"),
        ({"bench.people": 1}, "bench.people"),
        ({"bench.scrap_minor": "cheap"}, "bench.scrap_minor"),
        ({"bench.scrap_minor": 1, "bench.life_shape": 99}, "bench.life_shape"),
        ({"scrap_minor": None}, "scrap_minor"),
        ({"by_family": []}, "by_family"),
    ],
)
def test_what_cannot_be_set_is_refused_by_name(client, workshop, changes, field):
    answer = client.post("/api/settings", json={"changes": changes})
    assert answer.status_code == 422
    assert field in answer.text
    assert workshop.settings() == Settings()


@pytest.mark.parametrize("owner", ["customer", "workshop"])
def test_a_decision_lists_what_it_is_weighed_with(client, workshop, owner):
    for number, kind in enumerate(KNOWN, 1):
        workshop.jobs.open(replace(INTAKE, family=kind, owner=owner))
        page = client.get(f"/jobs/{number}/decision").text
        told = client.get(f"/api/jobs/{number}/decision").json()
        assert {line["origin"] for line in told["figures"]} == {
            "general" if kind == "other" else "family"
        }
        for line in told["figures"]:
            assert line["words"] in page
            assert line["where"].replace("'", "&#39;") in page
        assert ("<b>Assumed:</b>" in page) == (kind == "other") == bool(told["assumed"])
        assert ("<b>Assumed:</b>" in client.get(f"/jobs/{number}").text) == (kind == "other")


def test_the_price_that_a_job_says_is_shown_as_its_own(client, workshop):
    workshop.jobs.open(replace(INTAKE, new_machine_minor=45000))
    told = client.get("/api/jobs/1/decision").json()
    (line,) = [line for line in told["figures"] if line["name"] == "new_machine_minor"]
    assert (line["value"], line["origin"], line["where"]) == (45000, "job", "saved for this job")
    assert "450.00 EUR" in client.get("/jobs/1/decision").text


def test_yard_and_guarantee_say_what_is_assumed(client, workshop):
    for kind in KNOWN:
        workshop.jobs.open(replace(INTAKE, family=kind))
    assert len(client.get("/api/yard").json()["assumed"]) == 1
    assert client.get("/yard").text.count("<b>Assumed:</b>") == 1
    own, silent = (client.get(f"/api/guarantee?family={kind}").json() for kind in KNOWN)
    assert own["assumed"] == ""
    assert silent["assumed"]
    assert own["machine"]["again_minor"] == 4000 + Settings().bench_rate_minor
    assert silent["machine"]["again_minor"] == 9000 + Settings().bench_rate_minor
    assert "by the family file" in client.get("/guarantee?family=bench").text
    assert "<b>Assumed:</b>" in client.get("/guarantee?family=other").text
