"""The pages that show a drawn machine: where it stands, what it weighs, and what it says without being looked at."""

import itertools
import re

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Closed, Finding, Intake
from counterpoise.workshop.store.store import Store

MOST_BYTES = 30_000


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Two jobs of a spin dryer, one of them closed, read through the pages."""
    ticks = itertools.count()
    where = tmp_path_factory.mktemp("drawn") / "workshop.db"
    with Store(where, lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z") as store:
        workshop = ForeseeableWorkshop(store, {"spin_dryer": load_family("spin_dryer")})
        for _ in range(2):
            intake = Intake("spin_dryer", "customer", "Veltro 2", ("shakes",), 6.0, {})
            number = workshop.jobs.open(intake, "ada").number
            workshop.jobs.record(number, Finding("look_hang", "middle"))
        workshop.jobs.record(2, Closed("hand_back"))
        with TestClient(create_app(workshop), base_url="http://localhost") as client:
            yield client


def drawings(text):
    return re.findall(r'<svg[^>]* class="drawing.*?</svg>', text, re.DOTALL)


def test_a_step_has_the_machine_beside_it_and_small_drawings_below_its_cautions(pages):
    text = pages.get("/jobs/1/steps/repair/replace_mounts").text
    shown = drawings(text)
    assert "Here now: Rubber mounts" in shown[0]
    assert "To be opened first: On its side, base plate off" in shown[0]
    assert any("Plug out, in sight" in one for one in shown[1:])
    # a drawing never stands between a caution and the steps it is about
    assert text.index("Before you start") < text.index('class="sketches"')
    assert sum(len(one.encode()) for one in shown) < MOST_BYTES
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_the_evidence_shows_what_was_looked_at(pages):
    (shown,) = drawings(pages.get("/jobs/1/evidence").text)
    assert "Looked at: Basket." in shown


def test_the_sheet_shows_the_machine_and_of_a_closed_job_what_was_looked_at(pages):
    for number in (1, 2):
        sheet = pages.get(f"/api/jobs/{number}/sheet").json()["drawing"]
        assert drawings(pages.get(f"/jobs/{number}/sheet").text) == [sheet]
        assert ("Looked at: Basket." in sheet) == (number == 2)


def test_a_measurement_is_shown_as_it_is_done(pages):
    assert any(
        "Turn by the clock" in one for one in drawings(pages.get("/jobs/1/measure/runout").text)
    )


def test_a_closed_job_has_no_step_to_draw(pages):
    assert drawings(pages.get("/jobs/2").text) == []


def test_each_complaint_with_a_place_can_be_tapped_at_intake(pages):
    text = pages.get("/jobs/new?family=spin_dryer").text
    boxes = set(re.findall(r'name="complaints" value="\w+" id="([\w-]+)"', text))
    tapped = set(re.findall(r'<label class="tap[^>]* for="([\w-]+)"', text))
    assert tapped
    assert tapped <= boxes
