"""The pages over the shipped family and the real assessment."""

import pytest
from fastapi.testclient import TestClient

from counterpoise.web.app import create_app
from counterpoise.workshop.demo.play import seed
from counterpoise.workshop.services.intake import open_workshop

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    workshop = open_workshop(str(tmp_path_factory.mktemp("real") / "workshop.db"))
    with (
        workshop.store,
        TestClient(
            create_app(workshop), base_url="http://localhost", follow_redirects=False
        ) as opened,
    ):
        seed(workshop.store)
        yield opened


def test_the_intake_asks_what_the_catalog_says(client):
    page = client.get("/jobs/new?family=front_loader").text
    sheet = client.get("/api/jobs/new?family=front_loader").json()[0]
    assert len(sheet["questions"]) >= 5
    for asked in (*sheet["complaints"], *sheet["features"]):
        assert f'"{asked["id"]}"' in page or f'"feature.{asked["id"]}"' in page


def test_a_job_taken_in_gets_advice_that_moves_on(client):
    intake = {
        "family": "front_loader",
        "owner": "customer",
        "complaints": ["shakes"],
        "age_years": "6",
    }
    place = client.post("/jobs", data=intake).headers["location"]
    told = client.get(f"/api{place}").json()
    step = told["assessment"]["next"]
    assert step["kind"] == "check"
    assert told["assessment"]["why"]
    answer = max(step["answers"], key=lambda one: one["probability"])
    form = {"check": step["id"], "outcome": answer["outcome"], "last": str(told["last"])}
    assert client.post(f"{place}/findings", data=form).status_code == 303
    assert client.get(f"/api{place}").json()["assessment"]["next"]["id"] != step["id"]


@pytest.mark.parametrize("number", [1, 4, 8])
def test_jobs_of_the_book_are_shown_and_printed(client, number):
    assert client.get(f"/jobs/{number}").status_code == 200
    assert client.get(f"/jobs/{number}/decision").status_code == 200
    assert client.get(f"/jobs/{number}/sheet.pdf").content.startswith(b"%PDF")


def test_every_step_of_the_catalog_can_be_picked(client):
    groups = client.get("/api/jobs/8/steps").json()
    picked = [line for group in groups for line in group["lines"]]
    assert len(picked) > 80
    for line in picked[::6]:
        answer = client.get(f"/jobs/8/steps/{line['kind']}/{line['id']}")
        assert answer.status_code == 200
        assert line["title"].split("'")[0][:20] in answer.text
