"""The page of what was learned, and its JSON twin."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from tests.workshop.learning.jobs_of import DAMPERS, FAMILY, workshop_of

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.job_file import JobFile
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

PLACE = f"faults.{DAMPERS}.prior"


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    with Store(tmp_path / "learning.db") as store:
        yield Workshop(store, {FAMILY.id: FAMILY})


@pytest.fixture
def web(workshop: Workshop) -> TestClient:
    return TestClient(create_app(workshop), base_url="http://127.0.0.1")


def test_the_page_says_what_moved_and_the_jobs_behind_it(
    workshop: Workshop, web: TestClient
) -> None:
    assert "10 more closed jobs before anything is learned" in web.get("/learning").text
    workshop.jobs.add_all([JobFile(job.entries) for job in workshop_of(30, 18, 12)])
    page = web.get("/learning?judge=true").text
    assert "25 % by the catalog, 40 % after your 60 jobs" in page
    assert "30 jobs behind it" in page
    assert "What was wrong:" in page
    told = web.get("/api/learning").json()
    row = next(each for each in told["rows"] if each["place"] == PLACE)
    assert row["written"] == 0.25
    assert row["low"] < row["here"] < row["high"]


def test_a_figure_is_taken_back_and_given_back(workshop: Workshop, web: TestClient) -> None:
    workshop.jobs.add_all([JobFile(job.entries) for job in workshop_of(30, 18, 12)])
    web.get("/learning")
    sent = {"family": FAMILY.id, "what": "take_back", "place": PLACE, "by": "Mo"}
    assert web.post("/learning", data=sent, follow_redirects=False).status_code == 303
    assert "taken back" in web.get("/learning").text
    assert workshop.family(FAMILY.id).faults[DAMPERS].prior == 0.25
    answer = web.post("/api/learning", json=sent | {"what": "give_back"})
    assert answer.status_code == 201
    assert workshop.family(FAMILY.id).faults[DAMPERS].prior > 0.35
    for what in ("freeze", "go_on", "undo", "put_off"):
        assert (
            web.post("/api/learning", json={"family": FAMILY.id, "what": what}).status_code == 201
        )
    wrong = web.post("/api/learning", json=sent | {"place": "faults.nothing.prior"})
    assert wrong.status_code == 422
    assert wrong.json()["field"] == "place"
