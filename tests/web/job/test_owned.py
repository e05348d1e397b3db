"""Another job's photo or recording is not read by changing a number."""

import pytest
from PIL import Image
from tests.web.job.test_recording import BROKEN, WITH_SPIN, send
from tests.web.workbench import INTAKE, ForeseeableWorkshop

from counterpoise.workshop.jobs.entries import Note


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": WITH_SPIN})


@pytest.fixture
def other(workshop, number):
    return workshop.jobs.open(INTAKE, "ada").number


def test_a_photo_is_read_under_its_own_job_alone(client, workshop, number, other, tmp_path):
    Image.new("RGB", (30, 20)).save(tmp_path / "a.png")
    photo = workshop.photos.add((tmp_path / "a.png").read_bytes())
    # before it stands in an entry it is nobody's
    assert client.get(f"/jobs/{number}/photos/{photo}").status_code == 404
    entry = workshop.jobs.record(number, Note("plate", (photo,))).number
    assert client.get(f"/jobs/{number}/photos/{photo}").status_code == 200
    refused = client.get(f"/jobs/{other}/photos/{photo}")
    assert refused.status_code == 404
    assert f"Job {other} has no photo" in refused.text
    # taken back it still stands in the evidence
    workshop.jobs.retract(number, entry)
    assert client.get(f"/jobs/{number}/photos/{photo}").status_code == 200


def test_a_recording_is_read_under_its_own_job_alone(client, workshop, number, other):
    where = send(client, number, BROKEN).partition("?")[0]
    recording = where.rsplit("/", 1)[1]
    theirs = f"/jobs/{other}/recording/{recording}"
    for path in ("", "/figure.svg", "/fit", "/fit.svg"):
        assert client.get(theirs + path).status_code == 404
    assert client.get(f"/api{theirs}").json()["what"].startswith(f"Job {other} has no recording")
    assert client.get(f"/api{theirs}/fit").status_code == 404
    for path, sent in ((theirs, {"role": "before"}), (f"{theirs}/sound", {})):
        assert client.post(path, data=sent).status_code in {404, 422}
        assert client.post(f"/api{path}", json=sent).status_code in {404, 422}
    assert len(workshop.jobs.get(other).entries) == 1
    assert client.get(where).status_code == 200
    # who sends the same file to it has it already
    send(client, other, BROKEN)
    assert client.get(theirs).status_code == 200
