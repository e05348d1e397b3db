"""A recording in a job: sent, read, put down; what the belief makes of it; the proof before and after."""

from dataclasses import replace

import numpy as np
import pytest
from fastapi.testclient import TestClient
from tests.spin.shared import recording_file
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.spin.causes.groups import PRIOR
from counterpoise.spin.causes.verdict import judge
from counterpoise.web.app import create_app
from counterpoise.workshop.diagnosis.replay import replay
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.store.store import Store

CHECK = load_family("front_loader").checks["spin_recording"]
WITH_SPIN = replace(FAMILY, checks=FAMILY.checks | {"spin_recording": replace(CHECK, cautions=())})
SOUND, BROKEN, AFTER = (recording_file(name).read_bytes() for name in ("r001", "r002", "r003"))
# Another machine, with its transit bolts in and out.
BOLTED, FREED = (recording_file(name).read_bytes() for name in ("r008", "r005"))


def flat():
    """A minute of a phone that lay still, by the noise of its own sensor."""
    rng = np.random.default_rng(5)
    rows = [
        f"{t / 50:.2f},{x:.4f},{y:.4f},{9.81 + z:.4f}"
        for t, (x, y, z) in enumerate(rng.normal(0, 0.01, (3000, 3)))
    ]
    return ("t,x,y,z\n" + "\n".join(rows)).encode()


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": WITH_SPIN})


def send(client, number, data, role="before", top_rpm="1100"):
    files = {"recording": ("spin.csv.gz", data)}
    answer = client.post(
        f"/jobs/{number}/recording", files=files, data={"role": role, "top_rpm": top_rpm}
    )
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def put(client, number, where, role="before", top_rpm="1100"):
    page = client.get(where).text
    last = page.split('name="last" value="', 1)[1].split('"', 1)[0]
    form = {"role": role, "top_rpm": top_rpm, "last": last, "by": "ada"}
    return client.post(where.partition("?")[0], data=form)


def test_a_recording_is_read_before_it_counts(client, workshop, number):
    where = send(client, number, BROKEN)
    page = client.get(where).text
    assert len(workshop.jobs.get(number).entries) == 1
    told = client.get(f"/api{where}").json()
    assert told["sentence"].split(" (")[0] in page
    assert abs(told["top_rpm"] / 1106.6 - 1) < 0.01
    assert sum(line["chance"] for line in told["groups"]) == pytest.approx(1, abs=1e-3)
    drawn = client.get(where.replace("?", "/figure.svg?"))
    assert drawn.text.startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    assert "script" not in drawn.headers["content-security-policy"]


def test_the_verdict_and_what_to_do_stand_before_the_figure_and_the_causes(client, number):
    page = client.get(send(client, number, BROKEN)).text
    order = [
        page.index(words)
        for words in (
            "What it says",
            "Save it as a finding",
            "Shake once a turn",
            "Causes it can show",
        )
    ]
    assert order == sorted(order)
    # a bar and a mark for each cause, and each says its figures to whoever cannot see them
    assert page.count("% before the recording") == len(PRIOR)


def test_before_and_after_lie_over_each_other(client, number):
    put(client, number, send(client, number, BROKEN))
    page = client.get(send(client, number, AFTER, "after")).text
    chart = page[page.index('<figure class="figure">') : page.index("</figure>")]
    assert "Before: " in chart
    assert "After: " in chart
    # the older one dashed: told apart without colour
    assert chart.count("stroke-dasharray") >= 3
    assert ">before</text>" in chart
    assert "<td><b>" in page


def test_the_told_top_speed_stays_with_the_recording(client, workshop, number):
    where = send(client, number, BROKEN)
    assert "top_rpm" not in where
    told = client.get(f"/api{where}").json()
    assert told["told_rpm"] == 1100
    assert "a programme of 1100 rpm" in client.get(where).text
    assert client.get(f"/api{where}&top_rpm=1300").json()["told_rpm"] == 1300
    assert workshop.recordings.metadata(told["recording"]).top_rpm == 1100


def test_put_down_it_is_soft_evidence_in_the_order_of_the_answers(client, workshop, number):
    where = send(client, number, BROKEN)
    told = client.get(f"/api{where}").json()
    assert not told["cannot_tell"]
    assert put(client, number, where).status_code == 303
    found = workshop.jobs.get(number).entries[-1].body
    assert (found.check, found.recording) == ("spin_recording", told["recording"])
    said = {line["group"]: line["chance"] / PRIOR[line["group"]] for line in told["groups"]}
    wanted = np.array([said[outcome] for outcome in CHECK.outcomes])
    assert np.allclose(found.weights, wanted / wanted.sum(), atol=2e-3)
    assert workshop.recordings.get(found.recording) == ("spin.csv.gz", BROKEN)
    assert (
        f"/jobs/{number}/recording/{found.recording}" in client.get(f"/jobs/{number}/evidence").text
    )
    assert client.get(f"/api/jobs/{number}/recording").json() == {"recordings": [found.recording]}


def test_evidence_is_the_verdict_as_it_was_computed_not_as_it_is_shown(client, workshop, number):
    where = send(client, number, BROKEN)
    assert put(client, number, where).status_code == 303
    finding = workshop.jobs.get(number).entries[-1].body
    verdict = judge(workshop.recordings.reading(finding.recording))
    wanted = np.array([verdict.likelihood[outcome] for outcome in CHECK.outcomes])
    assert np.allclose(finding.weights, wanted / wanted.sum(), rtol=1e-12, atol=0)
    assert not np.allclose(finding.weights, np.round(wanted, 4) / wanted.sum(), rtol=1e-12, atol=0)


def test_the_belief_takes_it(tmp_path):
    front = load_family("front_loader")
    with Store(tmp_path / "w.db") as store, TestClient(
        app := create_app(ForeseeableWorkshop(store, {"front_loader": front})),
        base_url="http://localhost", follow_redirects=False,
    ) as client:  # fmt: skip
        workshop = app.state.workshop
        number = workshop.jobs.open(
            replace(INTAKE, family="front_loader", complaints=("shakes",), features={})
        ).number
        before = replay(front, Settings(), workshop.jobs.get(number))
        # Bolts left in: a fault that is called on any machine; one dead damper no longer is.
        where = send(client, number, recording_file("r008").read_bytes())
        best = client.get(f"/api{where}").json()["groups"][0]["group"]
        assert best == "transit_bolts"
        assert put(client, number, where).status_code == 303
        after = replay(front, Settings(), workshop.jobs.get(number))
        known = before.model.hypotheses
        worn = np.array(
            [any("bolt" in known.fault_ids[f] for f in faults) for faults in known.sets]
        )
        assert worn.any()
        assert not after.warnings
        assert after.probabilities[worn].sum() > before.probabilities[worn].sum()


def test_a_still_phone_moves_nothing(client, workshop, number):
    where = send(client, number, flat())
    assert "cannot tell" in client.get(where).text
    put(client, number, where)
    found = workshop.jobs.get(number).entries[-1].body
    assert (found.outcome, found.weights) == ("could_not_tell", ())


def test_the_sound_machines_own_recording_is_used(client, workshop, number):
    put(client, number, send(client, number, SOUND, "sound"), "sound")
    where = send(client, number, BROKEN)
    assert client.get(f"/api{where}").json()["with_baseline"]
    assert "from when it was healthy" in client.get(where).text


def test_the_proof_compares_with_before(client, workshop, number):
    alone = client.get(f"/api{send(client, number, FREED, 'after', '1200')}").json()["proof"]
    assert (alone["result"], alone["rows"]) == ("cannot tell", [])
    where = send(client, number, BOLTED, top_rpm="1200")
    put(client, number, where, top_rpm="1200")
    where = send(client, number, FREED, "after", "1200")
    proof = client.get(f"/api{where}").json()["proof"]
    assert proof["result"] == "pass", proof["sentence"]
    assert {row["name"] for row in proof["rows"]} >= {"top speed", "movement at full speed"}
    put(client, number, where, "after", "1200")
    body = workshop.jobs.get(number).entries[-1].body
    assert body.passed == (proof["result"] == "pass")
    for page in (f"/jobs/{number}/sheet", f"/jobs/{number}/evidence"):
        assert "movement at full speed" in client.get(page).text


def test_dampers_that_a_recording_does_not_show_are_not_proved_by_one(client, workshop, number):
    put(client, number, send(client, number, BROKEN))
    proof = client.get(f"/api{send(client, number, AFTER, 'after')}").json()["proof"]
    assert proof["result"] == "cannot tell"
    assert proof["rows"]
    assert "by hand" in proof["sentence"]


def test_a_proof_that_cannot_tell_stays_open(client, workshop, number):
    put(client, number, send(client, number, BROKEN))
    put(client, number, send(client, number, flat(), "after"), "after")
    kinds = [type(entry.body).__name__ for entry in workshop.jobs.get(number).entries]
    assert kinds == ["Intake", "Finding", "Note"]
    assert "cannot tell" in workshop.jobs.get(number).entries[-1].body.text
    assert not client.get(f"/api{send(client, number, AFTER)}").json()["with_baseline"]


@pytest.mark.parametrize("data", [b"", b"\x00\xff" * 400, b"t,x,y,z\n1,2,3,4\n"])
def test_what_is_no_recording_is_refused_in_words(client, workshop, number, data):
    answer = client.post(f"/api/jobs/{number}/recording?name=a.csv", content=data)
    assert answer.status_code == 422
    assert answer.json()["what"]
    assert "/tmp" not in answer.text  # where the reader unpacks it must not show


def test_the_twin_takes_bytes_and_puts_down(client, workshop, number):
    kept = client.post(f"/api/jobs/{number}/recording?name=a.csv.gz", content=BROKEN).json()[
        "recording"
    ]
    place = f"/api/jobs/{number}/recording/{kept}"
    assert client.post(place, json={"role": "before", "expected_last": 0}).status_code == 409
    assert client.post(place, json={"role": "before", "expected_last": 1}).json()["entry"] == 2
    assert client.get(f"/api/jobs/{number}/recording/nothing").status_code == 404
    assert client.post(f"/jobs/{number}/recording", data={"role": "before"}).status_code == 422


@pytest.mark.parametrize("tied", [True, False])
def test_the_test_load_is_offered_where_the_family_has_it_and_put_down_as_its_own_check(
    store, number, tied
):
    extra = {"spin_test_load": replace(CHECK, id="spin_test_load", cautions=())} if tied else {}
    family = replace(WITH_SPIN, checks=WITH_SPIN.checks | extra)
    workshop = ForeseeableWorkshop(store, {"bench": family})
    app = create_app(workshop)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
        for page in ("recording", "record"):
            offered = 'value="tied"' in client.get(f"/jobs/{number}/{page}").text
            assert offered == tied
        if tied:
            where = send(client, number, BOLTED, "tied", "1200")
            put(client, number, where, "tied", "1200")
            body = workshop.jobs.get(number).entries[-1].body
            assert (body.check, bool(body.weights)) == ("spin_test_load", True)
