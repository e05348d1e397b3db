"""The sound of a spin in a job: sent with the recording or after it, read beside it, and refused in words."""

import numpy as np
import pytest
from tests.spin.shared import spin_signal
from tests.spin.sounds import spin_sound, wav
from tests.web.job.test_recording import WITH_SPIN
from tests.web.workbench import ForeseeableWorkshop

SOUND = wav(spin_sound({1: 0.02, 3.07: 0.01}))


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": WITH_SPIN})


@pytest.fixture(scope="module")
def spin():
    t, acc, _ = spin_signal(100.0, noise=0.05)
    rows = "".join(
        f"{at:.4f},{x:.4f},{y:.4f},{z:.4f}\n" for at, (x, y, z) in zip(t, acc, strict=True)
    )
    return ("t,x,y,z\n" + rows).encode()


def test_a_sound_comes_with_its_recording(client, workshop, number, spin):
    files = {"recording": ("spin.csv", spin), "sound": ("spin.wav", SOUND)}
    form = {"role": "before", "sound_start_s": "0"}
    where = client.post(f"/jobs/{number}/recording", files=files, data=form).headers["location"]
    told = client.get(f"/api{where}").json()["sound"]
    assert np.allclose(sorted(order for order, _ in told["tones"]), [1, 3.07], atol=0.01)
    assert told["lined_up"] == "told"
    page = client.get(where).text
    assert told["sentence"].split("'")[0] in page
    assert all(line in page for line in told["lines"])
    assert f'href="/jobs/{number}/measure/bearing_tones"' in page
    assert client.get(f"/jobs/{number}/measure/bearing_tones").status_code == 200
    assert "moves no chance" in page


def test_a_sound_can_be_sent_later_and_changes_no_cause(client, workshop, number, spin):
    kept = client.post(f"/api/jobs/{number}/recording?name=a.csv", content=spin).json()["recording"]
    place = f"/jobs/{number}/recording/{kept}"
    before = client.get(f"/api{place}").json()
    assert before["sound"] is None
    assert client.post(f"/api{place}/sound?name=a.wav&start_s=0", content=SOUND).status_code == 201
    after = client.get(f"/api{place}").json()
    assert after["sound"]["name"] == "a.wav"
    assert after["groups"] == before["groups"]
    sent = client.post(
        f"{place}/sound", files={"sound": ("b.wav", SOUND)}, data={"sound_start_s": "0,0"}
    )
    assert sent.headers["location"] == f"{place}?role=before"
    assert client.post(f"{place}/sound", data={"role": "before"}).status_code == 422


@pytest.mark.parametrize(
    "data", [b"", b"RIFF", b"t,x,y,z\n1,2,3,4\n", SOUND[:20_000], SOUND.replace(b"WAVE", b"EVAW")]
)
def test_what_is_no_sound_is_refused_in_words(client, workshop, number, spin, data):
    kept = client.post(f"/api/jobs/{number}/recording?name=a.csv", content=spin).json()["recording"]
    answer = client.post(f"/api/jobs/{number}/recording/{kept}/sound", content=data)
    assert answer.status_code == 422
    assert answer.json()["field"] == "sound"
    assert "/tmp" not in answer.text
    assert workshop.recordings.metadata(kept).sound == ""


def test_there_is_no_sound_without_its_recording(client, number):
    assert (
        client.post(f"/api/jobs/{number}/recording/nothing/sound", content=SOUND).status_code == 404
    )
    assert client.post("/api/jobs/77/recording/nothing/sound", content=SOUND).status_code == 404
