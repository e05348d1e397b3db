"""A machine that must not be run or handed on: no page, JSON or command goes past its caution."""

import itertools

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient
from tests.workshop.forbidding import forbidding

from counterpoise.cli import main
from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Finding, Intake
from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store

RUN, LEAVE = "Do not switch it on: basket cracked (seen).", "Not to be handed on as it is"


@pytest.fixture
def shop(tmp_path):
    ticks = itertools.count()
    now = lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"  # noqa: E731
    with Store(tmp_path / "workshop.db", now) as store:
        opened = Workshop(store, {"spin_dryer": forbidding(tmp_path)})
        opened.jobs.open(Intake("spin_dryer", "customer", "Dryer", ("shakes",), 8.0))
        opened.jobs.record(1, Finding("look_basket", "crack"))
        yield opened


@pytest.fixture
def client(shop):
    app = create_app(None)
    app.state.workshop = shop
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


@pytest.mark.parametrize("page", ["steps/check/run_up", "steps/proof/proof", "record"])
def test_a_page_shows_the_caution_alone_until_it_was_read(client, page):
    said = client.get(f"/jobs/1/{page}").text
    assert RUN in said
    assert "I have read it" in said
    assert '<form class="answer"' not in said or "record" in page
    whole = client.get(f"/jobs/1/{page}?acknowledged=true").text
    assert RUN in whole
    assert "I have read it" not in whole
    assert len(whole) > len(said)


@pytest.mark.parametrize("page", ["", "sheet", "recording"])
def test_bench_sheet_and_recording_carry_it(client, page):
    assert RUN in client.get(f"/jobs/1/{page}".rstrip("/")).text


@pytest.mark.parametrize("page", ["", "sheet", "decision", "close", "quote"])
def test_bench_sheet_decision_closing_and_quote_say_why_it_is_not_handed_on(client, page):
    said = client.get(f"/jobs/1/{page}".rstrip("/")).text
    assert "can throw pieces of it" in said


@pytest.mark.parametrize(
    ("path", "sent"),
    [("findings", {"check": "run_up", "outcome": "hops"}), ("proofs", {"passed": True})],
)
def test_json_puts_no_run_down_that_was_not_acknowledged(client, path, sent):
    refused = client.post(f"/api/jobs/1/{path}", json=sent)
    assert refused.status_code == 422
    assert refused.json()["field"] == "acknowledged"
    assert "can burst" in refused.json()["what"]
    accepted = client.post(f"/api/jobs/1/{path}", json={**sent, "acknowledged": True})
    assert accepted.status_code == 201


def test_the_form_of_the_page_sends_it_along(client):
    whole = client.get("/jobs/1/steps/check/run_up?acknowledged=true").text
    assert 'name="acknowledged" value="yes"' in whole
    form = {"check": "run_up", "outcome": "hops", "acknowledged": "yes"}
    assert client.post("/jobs/1/findings", data=form).status_code == 303
    assert "Run although that was forbidden" in client.get("/jobs/1/evidence").text


def test_json_withholds_what_is_to_be_done(client):
    step = client.get("/api/jobs/1/steps/check/run_up").json()["picked"]
    assert step["withheld"]
    assert step["steps"] == step["answers"] == []
    assert step["cautions"][0].startswith(RUN)


def test_a_decision_and_a_closing_need_a_safeguard_and_keep_it(client, shop):
    refused = client.post("/api/jobs/1/decision", json={"option": "hand_back"})
    assert (refused.status_code, refused.json()["field"]) == (422, "safeguard")
    page = client.get("/jobs/1/decision").text
    assert all(f'value="{name}"' in page for name in ("made_safe", "out_of_use", "written_warning"))
    sent = {"option": "hand_back", "safeguard": "out_of_use"}
    assert client.post("/api/jobs/1/decision", json=sent).status_code == 201
    assert client.post("/api/jobs/1/close", json={"ending": "hand_back"}).status_code == 201
    assert "It left unrepaired: put out of use" in client.get("/jobs/1/evidence").text


def test_the_customers_no_to_a_quote_needs_one_too(client):
    quote = client.get("/api/jobs/1/quote").json()
    sent = {
        "answer": "hand_back",
        "agreed_by": "Ada",
        "price_minor": quote["price_minor"],
        "repairs": quote["repairs"],
    }
    assert client.post("/api/jobs/1/quote", json=sent).json()["field"] == "safeguard"
    assert (
        client.post("/api/jobs/1/quote", json={**sent, "safeguard": "made_safe"}).status_code == 201
    )


def test_commands_go_no_other_way(shop):
    def run(*words):
        return CliRunner().invoke(main, list(words), obj=shop)

    shown = run("job", "next", "1", "--pick", "check:run_up")
    assert RUN in shown.output
    assert "Lay the towel" not in shown.output
    assert (
        "Lay the towel"
        in run("job", "next", "1", "--pick", "check:run_up", "--acknowledged").output
    )
    assert run("job", "record", "1", "run_up", "hops").exit_code == 2
    assert run("job", "record", "1", "run_up", "hops", "--acknowledged").exit_code == 0
    assert run("job", "decide", "1", "hand_back").exit_code == 2
    assert run("job", "decide", "1", "hand_back", "--safeguard", "written_warning").exit_code == 0
