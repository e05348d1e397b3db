import pytest

from counterpoise.workshop.jobs.entries import Closed, Finding


def test_the_bench_page_answers_in_order(client, number):
    page = client.get(f"/jobs/{number}")
    assert page.status_code == 200
    at = [page.text.index(f'id="{part}"') for part in ("now", "why", "else", "worth")]
    assert at == sorted(at)


def test_the_page_says_when_the_runner_up_would_be_better(client, number):
    text = client.get(f"/jobs/{number}").text
    assert "“Look at the springs” would be the better step if" in text
    assert "were likelier than 46 % (now 31 %), or</li>" in text
    assert "this step took more than 6 minutes (now 2 minutes).</li>" in text
    told = client.get(f"/api/jobs/{number}").json()["assessment"]["contest"]
    assert (told["id"], told["turnings"][0]["at"]) == ("look_springs", 0.455)


def test_a_careful_workshop_is_told_what_that_changes(client, workshop, number):
    assert "Careful: it holds up." not in client.get(f"/jobs/{number}").text
    workshop.change_settings({"careful": True})
    assert "Careful: it holds up." in client.get(f"/jobs/{number}").text


def test_a_finding_moves_the_job_on(client, workshop, number):
    form = {
        "check": "new_place",
        "outcome": "no",
        "last": "1",
        "minutes": "2,5",
        "note": "second floor",
        "by": "ada",
    }
    answer = client.post(f"/jobs/{number}/findings", data=form)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{number}")
    assert workshop.jobs.get(number).entries[-1].body == Finding(
        "new_place", "no", minutes=2.5, note="second floor"
    )
    assert "Move the drum by hand" in client.get(f"/jobs/{number}").text


@pytest.mark.parametrize("outcome", ["could_not_tell", "cannot_reach"])
def test_not_knowing_is_an_answer(client, workshop, number, outcome):
    client.post(
        f"/jobs/{number}/findings", data={"check": "drum_by_hand", "outcome": outcome, "last": "1"}
    )
    assert workshop.jobs.get(number).entries[-1].body.outcome == outcome


def test_a_reading_gets_its_outcome(client, workshop, number):
    client.post(
        f"/jobs/{number}/findings",
        data={"check": "play", "reading": "0,8", "outcome": "", "last": "1"},
    )
    body = workshop.jobs.get(number).entries[-1].body
    assert (body.outcome, body.reading) == ("some", 0.8)


def test_a_stale_form_changes_nothing(client, workshop, number):
    workshop.jobs.record(number, Finding("new_place", "no"))
    answer = client.post(
        f"/jobs/{number}/findings", data={"check": "play", "outcome": "some", "last": "1"}
    )
    assert answer.status_code == 409
    assert len(workshop.jobs.get(number).entries) == 2


def test_the_last_entry_can_be_taken_back(client, workshop, number):
    workshop.jobs.record(number, Finding("new_place", "yes"))
    assert "Undo" in client.get(f"/jobs/{number}").text
    client.post(f"/jobs/{number}/retractions", data={"entry": "2", "last": "2", "back": "bench"})
    assert [entry.number for entry in workshop.jobs.get(number).standing] == [1]


def test_another_step_can_be_picked(client, number):
    listed = client.get(f"/jobs/{number}/steps").text
    assert f"/jobs/{number}/steps/check/look_springs" in listed
    picked = client.get(f"/jobs/{number}/steps/check/look_springs").text
    assert "Open first: Top cover" in picked
    assert picked.index("sheet edges cut") < picked.index("Two screws")


def test_a_contradiction_is_said(client, workshop, number):
    workshop.jobs.record(number, Finding("drum_by_hand", "on_its_own"))
    workshop.jobs.record(number, Finding("play", "none"))
    assert "speak against each other" in client.get(f"/jobs/{number}").text


def test_an_assessment_is_computed_once_for_the_same_evidence(
    client, workshop, number, monkeypatch
):
    computed = []
    real = workshop.assessments._assessor

    def counting(case):
        computed.append(case.job.number)
        return real(case)

    monkeypatch.setattr(workshop.assessments, "_assessor", counting)
    for path in ("", "/evidence", "/sheet", "/decision"):
        client.get(f"/jobs/{number}{path}")
    assert computed == [number]
    client.post(
        f"/jobs/{number}/findings", data={"check": "new_place", "outcome": "no", "last": "1"}
    )
    assert "Move the drum by hand" in client.get(f"/jobs/{number}").text
    workshop.change_settings({"labour_rate_minor": 5000})
    client.get(f"/jobs/{number}")
    assert computed == [number] * 3


def test_a_closed_job_tells_its_end_and_offers_no_more_work(client, workshop, number):
    workshop.jobs.record(number, Closed("scrap", ("support_cracked",), -1000, "gone to the yard"))
    text = client.get(f"/jobs/{number}").text
    assert "This job is closed" in text
    assert "Drum support cracked" in text
    assert "−10.00 EUR" in text
    assert "best today" not in text
    for path in ("steps", "decision", "close"):
        assert f'href="/jobs/{number}/{path}"' not in text
    assert "Undo" in text
