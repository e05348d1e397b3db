"""The list of jobs: by what blocks each, with its next step, searched, page by page; what was opened by mistake."""

import json
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from tests.web.workbench import INTAKE

from counterpoise.report.views.lists import jobs as views
from counterpoise.workshop.jobs.entries import (
    Closed,
    Decision,
    Finding,
    Note,
    Proof,
    RepairDone,
)
from counterpoise.workshop.learning.facts import facts_of
from counterpoise.workshop.services.jobs import LineQuery
from counterpoise.workshop.store import jobs

OWN = replace(INTAKE, owner="workshop", title="From the kerb", model="Quarrow 714")


def group_of(workshop, number):
    return {job.number: job.group for job in views.job_list(workshop)}[number]


def worked_out(workshop, number):
    """As it is in the background of a program that runs on."""
    workshop.kept.renew(number)
    return workshop.snapshot(number).assessment


def test_each_job_stands_under_what_blocks_it(client, workshop):
    own, theirs = workshop.jobs.open(OWN).number, workshop.jobs.open(INTAKE).number
    assert (group_of(workshop, own), group_of(workshop, theirs)) == ("now", "now")
    workshop.jobs.record(own, Note("pump ordered", parts_due="2026-03-09"))
    assert group_of(workshop, own) == "parts"
    workshop.jobs.retract(own, 2)
    for number in (own, theirs):
        workshop.jobs.record(number, RepairDone("replace_dampers"))
        assert group_of(workshop, number) == "proof"
        workshop.jobs.record(number, Proof(passed=False))
        assert group_of(workshop, number) == "now"
        workshop.jobs.record(number, Proof(passed=True))
    assert (group_of(workshop, own), group_of(workshop, theirs)) == ("sell", "customer")
    page = client.get("/jobs").text
    assert page.index("Waits for the customer") < page.index("To be sold")
    workshop.jobs.record(own, Closed("repair_resell"))
    assert group_of(workshop, own) == "closed"
    workshop.jobs.reopen(own)
    # it came back: what was proven before says nothing now
    assert group_of(workshop, own) == "now"


def test_a_machine_to_be_fetched_waits_for_its_customer(workshop, number):
    workshop.jobs.record(number, Decision("hand_back"))
    assert group_of(workshop, number) == "customer"


def test_the_next_step_is_shown_once_it_was_worked_out_and_marked_once_it_may_not_hold(
    client, workshop, number
):
    assert views.job_list(workshop)[0].doubt == "not worked out yet"
    assert "not worked out yet" in client.get("/jobs").text
    step = worked_out(workshop, number).next
    listed = views.job_list(workshop)[0]
    assert (listed.next, listed.doubt) == (step.title, "")
    assert step.title in client.get("/jobs").text
    assert "worked out" not in client.get("/jobs").text
    for change in (
        lambda: workshop.jobs.record(number, Finding("new_place", "no")),
        lambda: workshop.change_settings({"people": 3}),
    ):
        change()
        listed = views.job_list(workshop)[0]
        assert (listed.next, listed.doubt) == (step.title, "worked out before the last change")
        step = worked_out(workshop, number).next
        assert views.job_list(workshop)[0].doubt == ""


def test_it_is_searched_by_number_name_and_model(client, workshop):
    for count in range(12):
        workshop.jobs.open(replace(INTAKE, title=f"Machine {count}", model=f"Nettle 9{count:02}"))
    workshop.jobs.open(replace(OWN, title="50 % off_sale"))
    asked = {"veltro": 0, "machine": 12, "nettle 907": 1, "NETTLE": 12, "quarrow": 1, "no.3": 1, "3": 2,
             "50 %": 1, "_sale": 1, "%%": 0, "machine 11": 2, "": 13}  # fmt: skip
    for words, count in asked.items():
        assert len(client.get("/api/jobs", params={"q": words}).json()) == count, words
    page = client.get("/jobs", params={"q": '"><b>'}).text
    assert "No open job has these words." in page
    assert "<b>&#34;" not in page


def test_closed_jobs_come_page_by_page(client, workshop, monkeypatch):
    monkeypatch.setattr(views, "PER_PAGE", 3)
    for count in range(7):
        number = workshop.jobs.open(replace(INTAKE, title=f"Machine {count}")).number
        workshop.jobs.record(number, Closed("scrap"))
    first, last = client.get("/jobs").text, client.get("/jobs?page=3").text
    assert "Page 1 of 3" in first
    assert all(f"Machine {count}<" in first for count in (6, 5, 4))
    assert "Machine 3<" not in first
    assert "Machine 0<" in last
    assert 'href="/jobs?page=2#closed">Newer' in last
    numbers = [
        job["number"]
        for page in (1, 2, 3)
        for job in client.get(f"/api/jobs?group=closed&page={page}").json()
    ]
    assert numbers == [7, 6, 5, 4, 3, 2, 1]
    assert client.get("/jobs?page=0").status_code == 422


def test_what_was_opened_by_mistake_is_in_no_list_and_no_book_until_that_is_taken_back(
    client, workshop, number
):
    page = client.get(f"/jobs/{number}/close").text
    assert "It was opened by mistake" in page
    sent = {"ending": "opened_by_mistake", "note": "twice"}
    assert client.post(f"/jobs/{number}/close", data=sent).status_code == 303
    assert workshop.jobs.lines() == client.get("/api/jobs").json() == []
    assert client.get("/api/ledger").json()["lines"] == []
    assert client.get("/api/yard").json()["bench"] == []
    job = workshop.jobs.get(number)
    assert facts_of(workshop.family("bench"), workshop.settings(), job) is None
    assert "Show what was opened by mistake (1)" in client.get("/jobs").text
    assert INTAKE.title in client.get("/jobs?mistakes=true").text
    assert "Opened by mistake" in client.get(f"/jobs/{number}").text
    assert client.post(f"/api/jobs/{number}/retractions", json={"entry": 2}).status_code == 201
    assert [line.number for line in workshop.jobs.lines()] == [number]
    # it is no way to end a job that somebody could decide on
    refused = client.post(f"/api/jobs/{number}/decision", json={"option": "opened_by_mistake"})
    assert refused.status_code == 422


def test_a_machine_without_a_complaint_is_not_taken_in(client, workshop):
    sent = {"family": "bench", "owner": "customer", "_page": "/jobs/new", "maker": "Veltro"}
    refused = client.post("/jobs", data=sent)
    assert refused.status_code == 422
    assert '<a class="way" href="#wrong">Tick all that was said</a>' in refused.text
    assert 'value="Veltro"' in refused.text
    told = client.post("/api/jobs", json={"family": "bench", "title": "Veltro"})
    assert (told.status_code, told.json()["field"]) == (422, "complaints")
    assert workshop.jobs.lines() == []
    for said in ({"story": "It howls"}, {"nobody_to_ask": "true"}, {"complaints": "shakes"}):
        assert client.post("/jobs", data=sent | said).status_code == 303


def test_nobody_is_asked_where_nobody_is(client, workshop):
    number = workshop.jobs.open(replace(OWN, nobody_to_ask=True)).number
    assert "Ask whether it was moved" not in client.get(f"/jobs/{number}/steps").text


@pytest.mark.parametrize("query", [LineQuery(), LineQuery("open"), LineQuery(words="veltro")])
def test_a_store_of_before_gets_its_rows_when_they_are_first_asked_for(
    store, workshop, number, query
):
    workshop.jobs.record(number, Note("the belt is new"))
    before = store.jobs.lines(query)
    with store.database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM job_lines")
    store.jobs._rows_made = False
    assert store.jobs.lines(query) == before
    assert len(before) == 1
    assert json.dumps(before[0].entries) == "2"


def test_rows_are_made_once_however_many_ask_at_once(store, number, monkeypatch):
    real, made = jobs._make_row, []

    def slow(connection, job):
        made.append(job)
        time.sleep(0.05)
        real(connection, job)

    monkeypatch.setattr(jobs, "_make_row", slow)
    with store.database.writing() as connection:
        connection.exec_driver_sql("DELETE FROM job_lines")
    store.jobs._rows_made = False
    with ThreadPoolExecutor(4) as phones:
        shown = list(phones.map(lambda _: store.jobs.lines(), range(4)))
    assert made == [number]
    assert [line.number for lines in shown for line in lines] == 4 * [number]
