import io
import re

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from tests.web.workbench import FAMILY, INTAKE, OTHER, ForeseeableWorkshop

from counterpoise.errors import StoreError
from counterpoise.web.app import create_app

SCRIPT = '"><script>alert(1)</script>{{ 7*7 }}<img src=x>'
ESCAPED = "&lt;script&gt;alert(1)&lt;/script&gt;"


@pytest.mark.parametrize(
    ("path", "form", "field"),
    [
        ("findings", {"check": "no_such", "outcome": "no"}, "check"),
        ("findings", {"check": "new_place", "outcome": "perhaps"}, "outcome"),
        ("findings", {"check": "new_place", "outcome": ""}, "outcome"),
        ("findings", {"check": "play", "reading": "900"}, "reading"),
        ("findings", {"check": "play", "reading": "much"}, "reading"),
        ("findings", {"check": "play", "reading": "nan"}, "reading"),
        ("findings", {"check": "play", "reading": "1e999"}, "reading"),
        ("findings", {"check": "new_place", "reading": "3"}, "reading"),
        ("findings", {"check": "new_place", "outcome": "no", "minutes": "-3"}, "minutes"),
        ("findings", {"check": "new_place", "outcome": "no", "last": "soon"}, "last"),
        ("findings", {"check": "new_place", "outcome": "no", "note": "x" * 5000}, "note"),
        ("findings", {"check": "new_place", "outcome": "no", "by": "a\x00b"}, "by"),
        ("findings", {}, "check"),
        ("repairs", {"repair": "pray"}, "repair"),
        ("proofs", {"passed": "maybe"}, "passed"),
        ("decision", {"option": "burn"}, "option"),
        ("decision", {"option": "scrap", "agreed": "-5"}, "agreed"),
        ("decision", {"option": "scrap", "agreed": "1.234"}, "agreed"),
        ("decision", {"option": "scrap", "agreed": "9" * 20}, "agreed"),
        ("close", {"ending": "burn"}, "ending"),
        ("close", {"ending": "scrap", "faults": "gremlins"}, "faults"),
        ("notes", {"text": "  "}, "text"),
        ("retractions", {"entry": "1"}, "entry"),
        ("retractions", {"entry": "1.5"}, "entry"),
    ],
)
def test_the_page_names_the_field_and_nothing_changes(client, workshop, number, path, form, field):
    answer = client.post(f"/jobs/{number}/{path}", data=form)
    assert answer.status_code == 422
    if path in {"decision", "close"}:
        # where a form stands at its own address, it comes back with the fault at its field
        assert "Not saved yet." in answer.text
        at = answer.text.find('aria-describedby="wrong"')
        # a fault that the page has no field for is said on top
        assert f'name="{field}' in answer.text[at - 200 : at] or "gremlins" in answer.text
    else:
        assert "That did not go through" in answer.text
        assert f"<p>{field}</p>" in answer.text
        assert "What to do" in answer.text
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("findings", {"check": "no_such", "outcome": "no"}, "check"),
        ("findings", {"check": "new_place", "outcome": "no", "colour": "red"}, "colour"),
        ("findings", {"check": 5, "outcome": "no"}, "check"),
        ("findings", {"check": "play", "reading": 900}, "reading"),
        ("findings", {"check": "new_place", "outcome": "no", "minutes": -1}, "minutes"),
        ("decision", {"option": "scrap", "agreed_minor": -500}, "agreed_minor"),
        ("decision", {"option": "scrap", "agreed_minor": 1.5}, "agreed_minor"),
        ("close", {"ending": "part_out", "received_minor": -5}, "received_minor"),
        ("notes", {"text": "a photo", "photos": ["nothing"]}, "photos"),
        ("proofs", {}, "passed"),
    ],
)
def test_the_twin_names_the_field_and_nothing_changes(client, workshop, number, path, body, field):
    answer = client.post(f"/api/jobs/{number}/{path}", json=body)
    problem = answer.json()
    assert answer.status_code in {404, 422}
    assert set(problem) == {"what", "field", "remedy"}
    assert field in (problem["field"] or problem["what"])
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize(
    "body", [b"{", b"", b"[1]", b"null", b"\xff\xfe", b'{"check": NaN}', b"[" * 50_000]
)
def test_broken_json_is_told(client, workshop, number, body):
    answer = client.post(
        f"/api/jobs/{number}/findings", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code in {400, 422}
    assert set(answer.json()) == {"what", "field", "remedy"}
    assert len(workshop.jobs.get(number).entries) == 1


def test_a_broken_form_is_told(client, number):
    headers = {"content-type": "multipart/form-data; boundary=x"}
    assert client.post(
        f"/jobs/{number}/notes", content=b"--x\r\nnonsense", headers=headers
    ).status_code in {400, 422}


@pytest.mark.parametrize(
    "path",
    [
        "/jobs/99",
        "/jobs/99/sheet.pdf",
        "/nowhere",
        "/jobs/1/steps/check/none",
        "/jobs/1/photos/none",
        "/jobs/new/more",
    ],
)
def test_what_is_not_there_gets_a_plain_page(client, number, path):
    answer = client.get(path)
    assert answer.status_code == 404
    assert "That did not go through" in answer.text


@pytest.mark.parametrize(
    "path", ["/jobs/0", "/jobs/abc", "/jobs/99999999999999999999", "/jobs/1/steps/dance/x"]
)
def test_an_address_that_cannot_be_gets_a_plain_page(client, number, path):
    answer = client.get(path)
    assert answer.status_code == 422
    assert "That did not go through" in answer.text


def test_a_wrong_method_gets_a_plain_page(client):
    assert client.put("/jobs").status_code == 405
    assert client.put("/api/jobs").json()["what"]


def test_scripts_in_every_text_are_shown_as_text(client, workshop, number):
    names = ("title", "maker", "model", "serial", "contact", "story", "by")
    intake = dict.fromkeys(names, SCRIPT) | {"family": "bench", "owner": "customer"}
    made = client.post("/jobs", data=intake).headers["location"]
    for path, form in (
        ("findings", {"check": "new_place", "outcome": "no", "note": SCRIPT, "by": SCRIPT}),
        ("findings", {"check": "play", "outcome": "some"}),
        ("notes", {"text": SCRIPT}),
        ("retractions", {"entry": "3", "why": SCRIPT}),
        ("decision", {"option": "repair_hand_back", "why": SCRIPT}),
        ("repairs", {"repair": "replace_dampers", "note": SCRIPT}),
        ("proofs", {"passed": "yes", "note": SCRIPT}),
    ):
        assert client.post(f"{made}/{path}", data=form).status_code == 303
    client.post("/settings", data=_settings(client) | {"workshop_name": SCRIPT})
    assert workshop.settings().workshop_name == SCRIPT
    for path in (
        "/jobs",
        made,
        f"{made}/evidence",
        f"{made}/decision",
        f"{made}/sheet",
        f"{made}/close",
        "/settings",
    ):
        text = client.get(path).text
        assert "<script" not in _but_ours(text)
        assert "<img src=x" not in text
        assert ESCAPED in text
        assert "49<" not in text
    wrong = client.post(f"{made}/findings", data={"check": SCRIPT, "outcome": SCRIPT})
    assert wrong.status_code == 422
    assert "<script" not in _but_ours(wrong.text)
    client.post(f"{made}/close", data={"ending": "scrap", "note": SCRIPT})
    assert ESCAPED in client.get(made).text
    assert "<script" not in _but_ours(client.get(made).text)


def _but_ours(text):
    """A page without the script of our own that stands in each."""
    return re.sub(r'<script src="/press\.js\?[0-9a-f]+" defer>', "", text)


def _settings(client):
    from counterpoise.report.views.settings import LABELS, setting_text

    now = client.get("/api/settings").json()
    return {
        name: setting_text(name, now[name]) for name in LABELS if not isinstance(now[name], bool)
    }


def test_the_settings_page_changes_what_differs(client, workshop):
    form = _settings(client) | {
        "labour_rate_minor": "52,50",
        "tools": "pliers, gauge",
        "careful": "yes",
    }
    assert client.post("/settings", data=form).status_code == 303
    now = workshop.settings()
    assert (now.labour_rate_minor, now.tools, now.careful, now.people) == (
        5250,
        ("pliers", "gauge"),
        True,
        2,
    )


@pytest.mark.parametrize(
    "change",
    [{"labour_rate_minor": "-1"}, {"currency": "JPY"}, {"life_shape": "0"}, {"people": ""}],
)
def test_a_wrong_setting_changes_nothing(client, workshop, change):
    before = workshop.settings()
    answer = client.post("/settings", data=_settings(client) | {"workshop_name": "New"} | change)
    assert answer.status_code == 422
    assert next(iter(change)) in answer.text
    assert workshop.settings() == before


def test_a_photo_is_kept_without_its_place_and_shown(client, workshop, number):
    picture, data = Image.new("RGB", (60, 40), "grey"), io.BytesIO()
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (48.0, 1.0, 2.0)}
    picture.save(data, "JPEG", exif=exif)
    files = {"photos": ("foot.jpg", data.getvalue(), "image/jpeg")}
    assert (
        client.post(f"/jobs/{number}/notes", data={"text": "front foot"}, files=files).status_code
        == 303
    )
    photo = workshop.jobs.get(number).entries[-1].body.photos[0]
    sent = client.get(f"/jobs/{number}/photos/{photo}")
    assert sent.headers["content-type"] == "image/jpeg"
    assert not Image.open(io.BytesIO(sent.content)).getexif()
    assert f'src="/jobs/{number}/photos/{photo}"' in client.get(f"/jobs/{number}/evidence").text


@pytest.mark.parametrize(
    ("path", "form"),
    [
        ("findings", {"check": "drum_by_hand", "outcome": "on_its_own"}),
        ("repairs", {"repair": "replace_dampers"}),
    ],
)
def test_a_finding_or_a_repair_carries_its_photos(client, workshop, number, path, form):
    data = io.BytesIO()
    Image.new("RGB", (60, 40), "grey").save(data, "PNG")
    files = [("photos", (name, data.getvalue(), "image/png")) for name in ("a.png", "b.png")]
    assert client.post(f"/jobs/{number}/{path}", data=form, files=files).status_code == 303
    assert len(workshop.jobs.get(number).entries[-1].body.photos) == 2


def test_what_is_no_photo_is_told(client, workshop, number):
    files = {"photos": ("foot.jpg", b"<svg onload=alert(1)>", "image/jpeg")}
    assert (
        client.post(f"/jobs/{number}/notes", data={"text": "foot"}, files=files).status_code == 422
    )
    assert client.post("/api/photos", content=b"no photo").status_code == 422
    assert len(workshop.jobs.get(number).entries) == 1


def test_a_store_that_fails_is_told(workshop, number, monkeypatch):
    def fail(*_):
        raise StoreError("The store could not be written: disk full")

    monkeypatch.setattr(workshop.store.jobs, "append", fail)
    with TestClient(
        create_app(workshop), base_url="http://localhost", follow_redirects=False
    ) as client:
        answer = client.post(f"/jobs/{number}/notes", data={"text": "x"})
    assert answer.status_code == 503
    assert "disk full" in answer.text


def test_a_store_that_knows_why_says_what_to_do_instead_of_a_guess(workshop, number, monkeypatch):
    def locked(*_):
        raise StoreError("Somebody else is writing", remedy="Wait a moment, then try again")

    monkeypatch.setattr(workshop.store.jobs, "append", locked)
    with TestClient(
        create_app(workshop), base_url="http://localhost", follow_redirects=False
    ) as client:
        told = client.post(f"/api/jobs/{number}/notes", json={"text": "x"})
        page = client.post(f"/jobs/{number}/notes", data={"text": "x"})
    assert (told.status_code, page.status_code) == (503, 503)
    assert told.json()["remedy"] == "Wait a moment, then try again"
    assert "Wait a moment" in page.text
    assert "disk" not in page.text


def test_an_unforeseen_error_shows_no_insides(workshop, number, monkeypatch):
    def fail(*_):
        raise ZeroDivisionError("secret inside")

    monkeypatch.setattr(workshop.assessments, "_assessor", fail)
    with TestClient(
        create_app(workshop), base_url="http://localhost", raise_server_exceptions=False
    ) as client:
        for path in (f"/jobs/{number}", f"/api/jobs/{number}"):
            answer = client.get(path)
            assert answer.status_code == 500
            assert "secret" not in answer.text
            assert answer.headers["x-content-type-options"] == "nosniff"


def test_with_several_families_the_kind_is_asked_first(store):
    workshop = ForeseeableWorkshop(store, {"bench": FAMILY, "other": OTHER})
    with TestClient(create_app(workshop), base_url="http://localhost") as client:
        assert "/jobs/new?family=other" in client.get("/jobs/new").text
        assert 'name="complaints"' in client.get("/jobs/new?family=other").text
        assert client.get("/jobs/new?family=none").status_code == 422


def test_intake_is_all_or_nothing(client, workshop):
    body = {
        "family": "bench",
        "complaints": ["shakes"],
        "answers": [{"check": "new_place", "outcome": "maybe"}],
    }
    assert client.post("/api/jobs", json=body).json()["field"] == "outcome"
    assert workshop.jobs.lines() == []
    body["answers"] = [{"check": "new_place", "outcome": "yes"}]
    answer = client.post("/api/jobs", json=body)
    assert (answer.status_code, answer.json()["entry"]) == (201, 2)


def test_the_name_is_remembered_for_the_next_form(client, number):
    client.post(f"/jobs/{number}/notes", data={"text": "x", "by": "Ada K."})
    assert 'name="by" value="Ada K."' in client.get(f"/jobs/{number}").text


def test_the_twin_and_the_page_agree(client, workshop, number):
    told = client.get(f"/api/jobs/{number}").json()
    assert told["last"] == 1
    assert told["assessment"]["next"]["title"] in client.get(f"/jobs/{number}").text
    sent = client.post(
        f"/api/jobs/{number}/findings",
        json={"check": "new_place", "outcome": "no", "expected_last": 1},
    )
    assert sent.json()["next"]["id"] == "drum_by_hand"
    again = client.post(
        f"/api/jobs/{number}/findings",
        json={"check": "play", "outcome": "some", "expected_last": 1},
    )
    assert again.status_code == 409
    assert workshop.jobs.open(INTAKE).number == 2
