"""The clock is set back while a machine is in: entries go by number, and nothing takes minus two days."""

import re

import pytest
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.workshop.jobs.entries import Closed, Finding, Note
from counterpoise.workshop.store.store import Store


@pytest.fixture
def now():
    return ["2026-03-03T10:00:00Z"]


@pytest.fixture
def workshop(tmp_path, now):
    with Store(tmp_path / "back.db", lambda: now[0]) as store:
        yield ForeseeableWorkshop(store, {"bench": FAMILY})


def test_pages_and_sums_stand(client, workshop, now):
    number = workshop.jobs.open(INTAKE, "ada").number
    workshop.jobs.record(number, Note("first words", parts_due="2026-03-02"))
    now[0] = "2026-03-01T09:00:00Z"
    workshop.jobs.record(number, Finding("new_place", "no", minutes=4.0))
    workshop.jobs.record(number, Note("last words"))
    shown = {path: client.get(path) for path in ("/jobs", f"/jobs/{number}", "/yard")}
    evidence = client.get(f"/jobs/{number}/evidence")
    assert evidence.text.index("first words") != evidence.text.index("last words")
    told = client.get(f"/api/jobs/{number}/evidence").json()
    assert [entry["number"] for entry in told["entries"]] == [1, 2, 3, 4]
    workshop.jobs.record(number, Closed("hand_back"))
    shown |= {"closed": client.get("/jobs"), "ledger": client.get("/ledger")}
    for answer in (*shown.values(), evidence):
        assert answer.status_code == 200
        assert not re.search(r"(-|−)\s?\d[\d.]* (min|day|hour)", answer.text)
