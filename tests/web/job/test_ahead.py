"""What each answer leads to: behind a link until it is planned, then on the page, without scripts."""

import json

import pytest
from click.testing import CliRunner

from counterpoise.catalog.loader import load_family
from counterpoise.cli import main
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.workshop.diagnosis.assess import assess
from counterpoise.workshop.jobs.entries import Finding, Intake
from counterpoise.workshop.services.workshop import Workshop

FRONT = load_family("front_loader")
INTAKE = Intake("front_loader", "customer", "Veltro 6", ("shakes",), 6.0, {"drive": "belt"})
HEADING = "What each answer leads to"


@pytest.fixture
def workshop(store):
    return Workshop(store, {"front_loader": FRONT}, lambda case: assess(case, Effort(growths=1)))


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(INTAKE).number


def test_the_page_links_to_what_is_not_planned_yet_and_shows_what_is(client, workshop, number):
    page = client.get(f"/jobs/{number}").text
    assert f'href="/jobs/{number}/ahead#why">{HEADING}</a>' in page
    assert "then:" not in page
    ahead = client.get(f"/jobs/{number}/ahead").text
    assert '<details class="line" id="why" open>' in ahead
    assert f'<details class="more" open><summary>{HEADING}</summary>' in ahead
    again = client.get(f"/jobs/{number}").text
    assert f"<summary>{HEADING}</summary>" in again
    assert again.count("then:") == ahead.count("then:") > 0
    step = workshop.snapshot(number).promising(ahead=False).next
    answer = next(answer for answer in step.answers if answer.leads_to)
    assert f"then: {answer.leads_to}" in again
    workshop.jobs.record(number, Finding(step.id, answer.outcome), "ada")
    assert f'<h2 class="do">{answer.leads_to}</h2>' in client.get(f"/jobs/{number}").text


def test_terminal_and_json_say_the_same_and_name_the_error(client, workshop, number):
    told = client.get(f"/api/jobs/{number}").json()["assessment"]
    by_command = CliRunner().invoke(main, ["job", "next", str(number), "--json"], obj=workshop)
    assert json.loads(by_command.output)["assessment"] == told
    leads = [answer["leads_to"] for answer in told["next"]["answers"]]
    assert any(leads)
    assert {"error_minor", "about_as_good", "loss_minor"} <= set(told["rivals"][0])
    words = " ".join(
        CliRunner().invoke(main, ["job", "next", str(number)], obj=workshop).output.split()
    )
    assert "Instead:" in words
    assert "give or take" in words
    assert "give or take" in client.get(f"/jobs/{number}").text


def test_there_is_nothing_ahead_of_no_job(client):
    assert client.get("/jobs/999/ahead").status_code == 404
