"""A refused form comes back with what was typed, and with the fault beside the field under its label."""

import itertools
import re

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.errors import InputError
from counterpoise.web.app import create_app
from counterpoise.web.sending.refilled import refilled
from counterpoise.workshop.store.store import Store


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A workshop with one job, whose forms are all refused: nothing is ever written."""
    ticks = itertools.count()
    path = tmp_path_factory.mktemp("refused") / "workshop.db"
    with Store(path, lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z") as store:
        opened = ForeseeableWorkshop(store, {"bench": STOCKED})
        opened.jobs.open(INTAKE, "ada")
        with TestClient(
            create_app(opened), base_url="http://localhost", follow_redirects=False
        ) as client:
            yield client
        assert len(opened.jobs.get(1).entries) == 1
        assert len(opened.jobs.lines()) == 1


FORMS = [
    # the page, where its form goes, what is sent, the label over the fault, what is said, what stays
    ("/jobs/new", "/jobs", {"complaints": "shakes", "age_years": "400", "maker": "Veltro"},
     "Age in years, if known", "70", 'value="Veltro"'),
    ("/jobs/new", "/jobs", {"complaints": "walks", "promised": "soon", "story": "Loud <b>"},
     "Promised for", "is no day", "Loud &lt;b&gt;</textarea>"),
    ("/jobs/1/steps/check/play", "/jobs/1/findings", {"check": "play", "reading": "90", "note": "by hand"},
     "Free play at the rim, in mm", "20", "by hand</textarea>"),
    ("/jobs/1/decision", "/jobs/1/decision", {"option": "scrap", "agreed": "much", "why": "rust"},
     "", "much", "rust"),
    ("/jobs/1/close", "/jobs/1/close", {"ending": "sell_as_is", "cause.not_level": "ruled_out", "received": "-5"},
     "Received, EUR", "below zero", 'value="ruled_out" checked'),
    ("/settings", "/settings", {"people": "many", "workshop_name": "Our bench"},
     "", "many", 'value="Our bench"'),
    ("/stock/bench/pump", "/stock/bench/pump", {"kind": "used", "count": "5000", "place": "B2"},
     "", "1000", 'value="B2"'),
    ("/jobs/1/evidence", "/jobs/1/notes", {"text": "ordered", "parts_due": "tomorrow"},
     "Parts on order, expected on", "is no day", "ordered</textarea>"),
    ("/prices", "/prices/preview", {"supplier": "Farnholm"}, "", "None was sent", 'value="Farnholm"'),
    ("/jobs/1/measure/play", "/jobs/1/measure/play", {"m.radial.0": "far", "m.radial.1": "0.2"},
     "", "\u201cfar\u201d", 'value="0.2"'),
]  # fmt: skip


@pytest.mark.parametrize(("page", "action", "sent", "label", "said", "kept"), FORMS)
def test_it_comes_back_with_the_fault_at_its_field(shop, page, action, sent, label, said, kept):
    answer = shop.post(action, data={"owner": "customer", "family": "bench", "_page": page} | sent)
    assert answer.status_code == 422
    text = answer.text
    assert text.count('role="alert"') == 1
    assert "Not saved yet." in text
    assert kept in text
    if 'id="wrong"' not in text:
        # a file that did not come: no field of text is at fault
        assert action == "/prices/preview"
        return
    wrong = re.search(r'<div class="wrong" id="wrong"><p>(.*?)</p>', text).group(1)
    assert said in wrong
    assert text.count('aria-invalid="true" aria-describedby="wrong"') == 1
    assert f'<a class="way" href="#wrong">{label}' in text
    # under the label that holds the field
    assert text.index('aria-invalid="true"') < text.index('id="wrong"') or "<legend" in text


def test_the_page_that_comes_back_may_be_sent_again_put_right(shop):
    answer = shop.post(
        "/jobs", data={"_page": "/jobs/new", "complaints": "shakes", "age_years": "400"}
    )
    keys = re.findall(r'name="_key" value="([^"]+)"', answer.text)
    # each form that writes has one of its own: the intake, and the switch of light and dark
    assert len(set(keys)) == len(keys) == answer.text.count('method="post"')
    assert 'name="_page" value="/jobs/new"' in answer.text


def test_an_address_from_elsewhere_is_no_page_of_ours(shop):
    for address in ("//evil.example/jobs", "https://evil.example", "/nowhere", "/jobs.json\n"):
        answer = shop.post("/jobs", data={"_page": address, "age_years": "400"})
        assert answer.status_code == 422
        assert "evil" not in answer.text


def test_what_is_folded_away_opens_where_the_fault_is():
    page = '<main><form action="/x"><details class="more"><summary>More</summary><label>Size <input name="size"></label></details></form></main>'
    text = refilled(
        page, "/x", {"size": ["big"]}, InputError("size: big is no number", field="size")
    )
    assert '<details class="more" open>' in text
    assert '<label>Size <input name="size" value="big" aria-invalid="true"' in text
    assert "</label><div" in text
    assert refilled(page, "/y", {}, InputError("no")) is None
