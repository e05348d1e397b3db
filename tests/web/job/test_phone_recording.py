"""Pieces of a recording sent by a phone's browser: any order, twice, missing, too large, hostile; and the whole."""

import gzip
import json

import numpy as np
import pytest
from tests.web.job.test_recording import WITH_SPIN, put
from tests.web.phone import CAPTURE, coarse_spin, pieces
from tests.web.workbench import ForeseeableWorkshop

GOOD = {"t_ms": [0.0, 16.7], "x": [0.1, 0.2], "y": [0.0, 0.0], "z": [9.8, 9.9]}


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": WITH_SPIN})


@pytest.fixture(scope="module")
def spin():
    return coarse_spin("transit_bolts")


@pytest.fixture
def base(number):
    return f"/api/jobs/{number}/record/{CAPTURE}"


def test_out_of_order_and_repeated_pieces_make_the_recording_of_the_file(
    client, workshop, number, base, spin
):
    sent = pieces(*spin)
    order = np.random.default_rng(3).permutation(len(sent)).tolist()
    for part in [*order, *order[:4]]:
        assert client.put(f"{base}/{part}", json=sent[part]).status_code == 200
    assert client.get(base).json() == {"parts": list(range(len(sent))), "recording": ""}
    whole = client.post(base, json={"parts": len(sent), "top_rpm": 1100}).json()
    again = client.post(base, json={"parts": len(sent), "top_rpm": 1100})
    assert (again.status_code, again.json()) == (201, whole)
    assert client.get(base).json()["recording"] == whole["recording"]
    assert workshop.recordings.metadata(whole["recording"]).top_rpm == 1100

    t_ms, acc = spin
    rows = "".join(
        f"{t / 1000:.5f},{x:.4f},{y:.4f},{z:.4f}\n" for t, (x, y, z) in zip(t_ms, acc, strict=True)
    )
    file = client.post(
        f"/api/jobs/{number}/recording?name=a.csv&top_rpm=1100", content="t,x,y,z\n" + rows
    ).json()
    by_phone = client.get(f"/api/jobs/{number}/recording/{whole['recording']}").json()
    by_file = client.get(f"/api/jobs/{number}/recording/{file['recording']}").json()
    for told in (by_phone, by_file):
        del told["recording"], told["name"]
    assert by_phone == by_file
    assert by_phone["groups"][0]["group"] == "transit_bolts"
    assert any("steps of 0.1" in remark for remark in by_phone["remarks"])


def test_the_recording_goes_into_the_job_as_a_finding(client, workshop, number, base, spin):
    sent = pieces(*spin)
    for part, one in enumerate(sent):
        client.put(f"{base}/{part}", json=one)
    where = client.post(base, json={"parts": len(sent), "role": "before", "top_rpm": 1100}).json()[
        "page"
    ]
    assert "Save it as a finding" in client.get(where).text
    assert put(client, number, where).status_code == 303
    assert workshop.jobs.get(number).entries[-1].body.check == "spin_recording"
    assert 'value="1100"' in client.get(f"/jobs/{number}/record").text  # as last told in this job


def test_missing_pieces_are_named_and_can_still_come(client, number, base, spin):
    sent = pieces(*spin)
    for part in range(len(sent)):
        if part not in {2, 5}:
            client.put(f"{base}/{part}", json=sent[part])
    answer = client.post(base, json={"parts": len(sent)})
    assert answer.status_code == 409
    assert answer.json()["what"] == f"2 of {len(sent)} pieces have not come: 2, 5"
    for part in (5, 2):
        client.put(f"{base}/{part}", json=sent[part])
    assert client.post(base, json={"parts": len(sent)}).status_code == 201


def test_fewer_pieces_than_have_come_are_no_whole(client, base, spin):
    for part, one in enumerate(pieces(*spin)[:8]):
        client.put(f"{base}/{part}", json=one)
    assert client.post(base, json={"parts": 7}).status_code == 409
    assert client.post(base, json={"parts": 8}).status_code == 201


def test_a_coarse_clock_of_the_browser_is_evened_out(client, number, base, spin):
    t_ms, acc = spin
    for part, one in enumerate(pieces(t_ms // 100 * 100, acc)):
        assert client.put(f"{base}/{part}", json=one).status_code == 200
    told = client.post(base, json={"parts": part + 1, "top_rpm": 1100}).json()
    read = client.get(f"/api/jobs/{number}/recording/{told['recording']}").json()
    assert abs(read["top_rpm"] / 1100 - 1) < 0.01
    assert any("share their time" in remark for remark in read["remarks"])


def test_a_piece_with_other_readings_under_a_known_number_is_refused(client, base):
    assert client.put(f"{base}/0", json=GOOD).status_code == 200
    assert client.put(f"{base}/0", json=GOOD | {"x": [5.0, 5.0]}).status_code == 409
    assert client.put(f"{base}/0", json=GOOD).json() == {"parts": [0], "recording": ""}


@pytest.mark.parametrize(
    "change",
    [
        {"x": [0.1]}, {"x": []}, {"t_ms": [-1.0, 2.0]}, {"t_ms": [0, 3e9]}, {"z": [1e6, 0]}, {"z": ["9.8", 9.8]},
        {"z": [True, 9.8]}, {"z": None}, {"x": {"0": 1}}, {"y": [[0.0], [0.0]]}, {"extra": 1},
        {name: [0.5] * 1001 for name in GOOD},
    ],
)  # fmt: skip
def test_a_piece_that_cannot_be_is_refused_in_words(client, base, change):
    answer = client.put(f"{base}/0", json=GOOD | change)
    assert answer.status_code == 422
    assert set(answer.json()) == {"what", "field", "remedy"}
    assert client.get(base).json()["parts"] == []


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"[]", b"null", b"[" * 50_000, b"\xff\xfe{", b'{"t_ms": [0], "x": [NaN], "y": [0], "z": [0]}',
        b'{"t_ms": [0], "x": [Infinity], "y": [0], "z": [0]}', b'{"t_ms": [0], "x": [1e999], "y": [0], "z": [0]}',
        json.dumps(GOOD).encode() + b"}", b'{"t_ms":' * 5000, gzip.compress(json.dumps(GOOD).encode(), mtime=0),
    ],
)  # fmt: skip
def test_hostile_json_is_told(client, base, body):
    answer = client.put(f"{base}/0", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in {400, 422}
    assert set(answer.json()) == {"what", "field", "remedy"}
    assert client.get(base).json()["parts"] == []


@pytest.mark.parametrize("part", ["2000", "-1", "x", "1.5", "99999999999999999999"])
def test_a_piece_number_beyond_the_longest_recording_is_refused(client, base, part):
    assert client.put(f"{base}/{part}", json=GOOD).status_code == 422


@pytest.mark.parametrize("capture", ["short", "G" * 32, "a" * 33, "..%2f..", "A" * 32])
def test_a_capture_has_a_name_of_its_kind(client, number, capture):
    assert client.put(f"/api/jobs/{number}/record/{capture}/0", json=GOOD).status_code in {404, 422}


def test_there_is_no_recording_without_a_job_or_pieces(client, number, base):
    assert client.put(f"/api/jobs/77/record/{CAPTURE}/0", json=GOOD).status_code == 404
    assert client.get(f"/api/jobs/77/record/{CAPTURE}").status_code == 404
    assert client.post(f"/api/jobs/77/record/{CAPTURE}", json={"parts": 1}).status_code == 404
    assert client.post(base, json={"parts": 1}).status_code == 409
    assert client.post(base, json={"parts": 0}).status_code == 422


def test_too_short_a_recording_is_told_and_stays_unfinished(client, number, base):
    client.put(f"{base}/0", json=GOOD)
    answer = client.post(base, json={"parts": 1})
    assert answer.status_code == 422
    assert answer.json()["remedy"]
    assert client.get(f"/api/jobs/{number}/record").json()["unfinished"] == {CAPTURE: 1}


@pytest.mark.parametrize(
    "headers", [{"origin": "http://evil.example"}, {"sec-fetch-site": "cross-site"}]
)
def test_pieces_from_elsewhere_are_refused(client, base, headers):
    assert client.put(f"{base}/0", json=GOOD, headers=headers).status_code == 403
    assert client.post(base, json={"parts": 1}, headers=headers).status_code == 403
    assert client.get(base).json()["parts"] == []


def test_scripts_are_ours_and_send_to_no_other_address(client, number):
    answer = client.get(f"/jobs/{number}/record")
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "connect-src 'self'" in policy
    assert "unsafe" not in policy
    elsewhere = client.get(f"/jobs/{number}").headers["content-security-policy"]
    assert "script-src 'self'" in elsewhere
    # what is put down without a line is sent by script from every page of a job
    assert "connect-src 'self';" in elsewhere
    assert "unsafe" not in elsewhere
    assert "accelerometer=(self)" in answer.headers["permissions-policy"]
    assert answer.text.count("<script") == 2
    assert '<script src="/press.js?' in answer.text
    assert '<script type="module" src="/record.js?' in answer.text
    assert " style=" not in answer.text
    for name in ("record.js", "keep.js", "motion.js"):
        script = client.get(f"/{name}")
        assert script.headers["content-type"].startswith("text/javascript")
        assert "http://" not in script.text
        assert "https://" not in script.text


def test_cautions_come_before_the_steps(client, number):
    page = client.get(f"/jobs/{number}/record").text
    sheet = client.get(f"/api/jobs/{number}/record").json()
    found = [page.index(text) for text in (*sheet["cautions"], *sheet["steps"])]
    assert found == sorted(found)
    assert "holds it while it spins" in page
