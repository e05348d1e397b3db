"""Jobs whose family file is gone or broken: listed and marked, and nothing else is taken down."""

import pytest
from fastapi.testclient import TestClient

from counterpoise.errors import InputError
from counterpoise.report.views.ledger import month_ledger
from counterpoise.report.views.lists.jobs import job_list
from counterpoise.report.views.next_machine import yard
from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Closed, Intake
from counterpoise.workshop.services.intake import open_workshop
from counterpoise.workshop.services.own_families.files import begin


@pytest.fixture
def shop(tmp_path):
    folder = tmp_path / "own"
    folder.mkdir()
    opened = open_workshop(str(tmp_path / "jobs.db"), folder)
    begin("dishwasher", folder, opened.families.catalog)
    with opened.store:
        for closed in (False, True):
            job = opened.jobs.open(Intake("dishwasher", "customer", "Loud", ("loud",))).number
            if closed:
                opened.jobs.record(job, Closed("hand_back"))
        yield opened


@pytest.fixture(params=["gone", "broken"])
def harmed(shop, request):
    path = shop.families.catalog.folder / "dishwasher.yaml"
    if request.param == "gone":
        path.unlink()
        return shop, "there is no family dishwasher"
    path.write_text(path.read_text().replace("prior: 0", "prior: x0", 1))
    return shop, "the file of dishwasher is broken"


def test_lists_ledger_and_yard_go_on_and_say_so(harmed):
    shop, why = harmed
    assert [line.trouble for line in job_list(shop)] == [why, why]
    month = month_ledger(shop)
    assert month.lines == ()
    assert [(one.number, one.why) for one in month.left_out] == [(2, why)]
    assert [one.number for one in yard(shop).left_out] == [1]
    assert shop.jobs.export(1)


def test_the_job_itself_says_where_the_file_belongs_or_what_is_wrong_with_it(harmed):
    shop, why = harmed
    with pytest.raises(InputError) as caught:
        shop.snapshot(1)
    text = str(caught.value)
    assert "dishwasher.yaml" in text
    assert ("is not a number" in text) == ("broken" in why)
    assert "counterpoise catalog" in caught.value.remedy


def test_pages_offer_what_is_sound_and_name_what_is_broken(harmed):
    shop, why = harmed
    with TestClient(create_app(shop), base_url="http://localhost") as client:
        assert why in client.get("/jobs").text
        assert client.get("/jobs/1").status_code == 422
        offered = client.get("/jobs/new").text
        assert "family=front_loader" in offered
        assert "family=dishwasher" not in offered
        for address in (
            "/families",
            "/settings",
            "/yard",
            "/ledger",
            "/prices",
            "/stock",
            "/guarantee",
        ):
            answer = client.get(address)
            assert answer.status_code == 200, address
            assert "family=dishwasher" not in answer.text
        problems = {one["id"]: one["problems"] for one in client.get("/api/families").json()}
        if "broken" in why:
            assert "dishwasher.yaml:" in offered
            assert "is not a number" in problems["dishwasher"][0]
            assert "is not a number" in client.get("/families").text
        else:
            assert "dishwasher" not in problems


def test_own_families_are_offered_wherever_families_are(shop):
    with TestClient(create_app(shop), base_url="http://localhost") as client:
        assert "family=dishwasher" in client.get("/jobs/new").text
        assert "workshop&#39;s own" in client.get("/jobs/new").text
        for address in ("/guarantee", "/prices"):
            assert 'value="dishwasher"' in client.get(address).text, address
        assert "Dishwasher (the workshop&#39;s own)" in client.get("/settings").text
        assert "own/dishwasher.yaml" in client.get("/families").text
        assert client.get("/jobs/1").status_code == 200


def test_a_mended_file_counts_at_once_and_what_was_computed_is_computed_anew(shop):
    first = shop.snapshot(1).assessment
    assert shop.snapshot(1).assessment is first
    path = shop.families.catalog.folder / "dishwasher.yaml"
    path.write_text(path.read_text().replace("leak: 0.05", "leak: 0.4"))
    changed = shop.snapshot(1).assessment
    assert changed is not first
    assert changed.suspects != first.suspects
