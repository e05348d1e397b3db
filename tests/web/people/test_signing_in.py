"""Signing in and out, what is signed, sessions that are seen and ended, what is kept."""

import hashlib
import re
import sqlite3

import pytest
from fastapi.testclient import TestClient
from tests.web.people.conftest import PINS
from tests.workshop.people.quick import quick

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.services.people import People


def test_as_long_as_nobody_stands_there_nothing_is_asked(client, workshop, number):
    assert client.get("/jobs").status_code == 200
    answer = client.post(f"/jobs/{number}/notes", data={"text": "x", "by": "eve"})
    assert answer.status_code == 303
    assert workshop.jobs.get(number).entries[-1].by == "eve"
    assert "nobody signs in" in client.get("/people").text
    assert "Nobody signs in here" in client.get("/sign-in").text
    assert client.get("/api/sign-in").json() == {"name": "", "role": "", "may": [], "needed": False}
    assert client.post("/people/own", data={"old": "1", "secret": "2"}).status_code == 404


def test_the_first_is_made_on_the_page_and_signs_in(client, workshop, number):
    workshop.people = People(workshop.store, quick())
    made = client.post("/people", data={"name": "Ada", "role": "bench", "secret": PINS["Ada"]})
    assert (made.status_code, made.headers["location"]) == (303, "/sign-in?back=/people")
    assert [each.role for each in workshop.people.all()] == ["owner"]
    asked = client.get("/jobs?q=front loader")
    assert (asked.status_code, asked.headers["location"]) == (
        303, "/sign-in?back=/jobs%3Fq%3Dfront%2520loader",
    )  # fmt: skip
    assert 'value="/jobs?q=front%20loader"' in client.get(asked.headers["location"]).text
    answer = client.post(
        "/sign-in", data={"name": " ada ", "secret": PINS["Ada"], "back": "/jobs?q=front%20loader"}
    )
    assert (answer.status_code, answer.headers["location"]) == (303, "/jobs?q=front%20loader")
    assert client.get("/jobs").status_code == 200


@pytest.mark.parametrize(
    "back", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere"]
)
def test_it_leads_to_no_page_elsewhere(guest, back):
    answer = guest.post("/sign-in", data={"name": "Ada", "secret": PINS["Ada"], "back": back})
    assert answer.headers["location"] == "/jobs"


def test_a_wrong_name_and_a_wrong_pin_are_told_apart_by_nothing(guest):
    answers = [
        guest.post("/api/sign-in", json={"name": name, "secret": secret})
        for name, secret in (("Ada", "999991"), ("Eve", "999991"), ("Ada", ""), ("", PINS["Ada"]))
    ]
    assert {answer.status_code for answer in answers} == {401}
    assert len({answer.text for answer in answers}) == 1
    page = guest.post("/sign-in", data={"name": "Ada<b>", "secret": "9999912"})
    assert page.status_code == 401
    assert "do not belong together" in page.text
    assert "Ada&lt;b&gt;" in page.text
    # a secret goes into no page
    assert "9999912" not in page.text
    assert "set-cookie" not in page.headers


def test_what_is_written_is_signed_by_who_is_signed_in(as_somebody, staff, number):
    client = as_somebody("Ben")
    page = client.get(f"/jobs/{number}/evidence").text
    assert "Signed by Ben" in page
    assert 'name="by"' not in page
    client.post(f"/jobs/{number}/notes", data={"text": "by a form", "by": "Ada"})
    client.post(f"/api/jobs/{number}/notes", json={"text": "by a program", "by": "Ada"})
    client.post("/stock/bench/damper_set", data={"count": "2", "kind": "used", "by": "Ada"})
    as_somebody("Ada").post("/learning", data={"family": "bench", "what": "freeze", "by": "Eve"})
    entries = staff.jobs.get(number).entries
    assert [entry.by for entry in entries] == ["ada", "Ben", "Ben"]
    # on the shelf, and what is decided of learning, too
    with staff.store.database.reading() as connection:
        for table, who in (("movements", "Ben"), ("learning_decisions", "Ada")):
            rows = connection.exec_driver_sql(f'SELECT "by" FROM {table}').scalars().all()
            assert set(rows) == {who}, table
    # whoever sits at the computer with the store signs as before
    staff.jobs.record(number, Note("in the terminal"), "odo")
    assert staff.jobs.get(number).entries[-1].by == "odo"


def test_the_cookie_is_closed_to_scripts_and_to_plain_lines(staff):
    app = create_app(staff, allowed=lambda _: True)
    form = {"name": "Ada", "secret": PINS["Ada"]}
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as plain:
        cookie = plain.post("/sign-in", data=form).headers["set-cookie"]
    assert re.match(r"session=[\w-]{43}; HttpOnly;.*SameSite=lax", cookie)
    with TestClient(app, base_url="https://localhost", follow_redirects=False) as protected:
        cookie = protected.post("/sign-in", data=form).headers["set-cookie"]
        assert re.match(
            r"__Host-session=[\w-]{43}; HttpOnly;.*Path=/; SameSite=lax; Secure", cookie
        )
        assert "Domain" not in cookie
        assert protected.get("/jobs").status_code == 200
        ended = protected.post("/sign-out").headers["set-cookie"]
        assert ended.startswith('__Host-session="";')
        assert "Secure" in ended


def test_a_form_from_elsewhere_signs_nobody_in_or_out(guest, as_somebody):
    form = {"name": "Ada", "secret": PINS["Ada"]}
    foreign = {"origin": "https://elsewhere.example"}
    assert guest.post("/sign-in", data=form, headers=foreign).status_code == 403
    client = as_somebody("Ada")
    assert client.post("/sign-out", headers=foreign).status_code == 403
    assert client.get("/jobs").status_code == 200


def test_each_sign_in_is_a_new_session_and_ends_the_one_before(guest, staff):
    form = {"name": "Ada", "secret": PINS["Ada"]}
    guest.post("/sign-in", data=form)
    first = guest.cookies["session"]
    guest.post("/sign-in", data=form)
    assert guest.cookies["session"] != first
    assert staff.people.who(first) is None
    assert len(staff.people.sessions()) == 1
    # a secret that somebody else chose opens nothing, and is not taken over
    guest.cookies.clear()
    guest.post("/sign-in", data=form, headers={"cookie": "session=chosen"})
    assert staff.people.who("chosen") is None


def test_sessions_are_shown_and_ended(guest, as_somebody, staff):
    phone = {"user-agent": "Mozilla/5.0 (Android 15; Mobile) Firefox/140.0"}
    form = {"name": "Ben", "secret": PINS["Ben"]}
    his = guest.post("/sign-in", data=form, headers=phone).cookies["session"]
    client = as_somebody("Ada")
    page = client.get("/people").text
    assert "Firefox on Android, testclient" in page
    shown = client.get("/api/people").json()["sessions"]
    assert {each["name"]: each["here"] for each in shown} == {"Ada": True, "Ben": False}
    assert his not in page
    bens = next(each["id"] for each in shown if each["name"] == "Ben")
    adas = next(each["id"] for each in shown if each["name"] == "Ada")
    # Ben sees his own alone, and ends no other
    client.cookies.clear()
    client.cookies.set("session", his)
    sheet = client.get("/api/people").json()
    assert [each["name"] for each in sheet["people"]] == ["Ben"]
    assert [each["name"] for each in sheet["sessions"]] == ["Ben"]
    assert client.post(f"/people/sessions/{adas}").status_code == 404
    # the owner ends his
    as_somebody("Ada")
    assert client.post(f"/people/sessions/{bens}").status_code == 303
    client.cookies.clear()
    client.cookies.set("session", his)
    assert client.get("/jobs").status_code == 303
    assert client.get("/api/jobs").status_code == 401
    assert staff.people.who(his) is None


def test_signing_out_ends_it_here_and_in_the_store(as_somebody, staff):
    client = as_somebody("Ben")
    secret = client.cookies["session"]
    assert client.post("/sign-out").headers["location"] == "/sign-in"
    assert staff.people.who(secret) is None
    assert client.get("/jobs").status_code == 303
    client = as_somebody("Ben")
    assert client.post("/api/sign-out").json()["needed"] is True
    assert client.get("/api/jobs").status_code == 401


def test_who_is_gone_is_out_with_the_next_tap(as_somebody, staff):
    client = as_somebody("Ben")
    assert client.get("/jobs").status_code == 200
    staff.people.change(2, "bench", active=False)
    assert client.get("/jobs").status_code == 303
    answer = client.post("/api/sign-in", json={"name": "Ben", "secret": PINS["Ben"]})
    assert answer.status_code == 401


def test_a_new_pin_asks_for_the_old_one_and_ends_the_other_sessions(as_somebody, staff):
    elsewhere = as_somebody("Ben").cookies["session"]
    client = as_somebody("Ben")
    wrong = client.post("/people/own", data={"old": "000001", "secret": "a new phrase"})
    assert wrong.status_code == 422
    assert "a new phrase" not in wrong.text
    short = client.post("/api/people/own", json={"old": PINS["Ben"], "secret": "1"})
    assert (short.status_code, short.json()["field"]) == (422, "secret")
    done = client.post("/people/own", data={"old": PINS["Ben"], "secret": "a new phrase"})
    assert done.status_code == 303
    assert client.get("/jobs").status_code == 200
    assert staff.people.who(elsewhere) is None
    assert staff.people.checked("Ben", "a new phrase").name == "Ben"
    # guessing the old one in a browser that was left alone is slowed too
    for _ in range(6):
        client.post("/people/own", data={"old": "000001", "secret": "another phrase"})
    slow = client.post("/api/people/own", json={"old": "a new phrase", "secret": "another phrase"})
    assert (slow.status_code, "wait" in slow.json()["what"]) == (422, True)


def test_an_owner_says_who_works_here(as_somebody, staff):
    client = as_somebody("Ada")
    made = client.post("/api/people", json={"name": "Dora", "role": "bench", "secret": "577215"})
    assert made.json() | {"since": ""} == {
        "number": 4, "name": "Dora", "role": "bench", "active": True, "since": "",
    }  # fmt: skip
    # sent again it is answered as before, with the key; without, the name is taken
    key = {"idempotency-key": "dora-2"}
    again = [
        client.post("/api/people", headers=key, json={"name": "Ed", "secret": "577215"})
        for _ in range(2)
    ]
    assert [each.status_code for each in again] == [201, 201]
    assert again[0].json() == again[1].json()
    assert len(staff.people.all()) == 5
    refused = client.post("/people", data={"name": "dora", "role": "bench", "secret": "577216"})
    assert refused.status_code == 422
    assert "577216" not in refused.text
    assert client.post("/people/4", data={"role": "counter", "secret": ""}).status_code == 303
    dora = staff.people.get(4)
    # a tick that is not there is no
    assert (dora.role, dora.active) == ("counter", False)
    last = client.post("/api/people/1", json={"role": "bench"})
    assert (last.status_code, "last owner" in last.json()["what"]) == (422, True)
    assert client.post("/api/people/77", json={"role": "bench"}).status_code == 404


def test_a_session_survives_a_restart_and_its_secret_is_not_in_the_store(as_somebody, staff):
    client = as_somebody("Cleo")
    secret = client.cookies["session"]
    with TestClient(
        create_app(staff), base_url="http://localhost", follow_redirects=False
    ) as next_run:
        next_run.cookies.set("session", secret)
        assert next_run.get("/jobs").status_code == 200
    assert secret not in everything(staff)


def everything(workshop):
    """All that lies in the store, as one text."""
    with sqlite3.connect(workshop.store.database.engine.url.database) as connection:
        return "\n".join(connection.iterdump())


def test_nothing_of_a_pin_is_kept_but_its_hash(as_somebody, staff):
    client = as_somebody("Ada")
    pin = "141421"
    form = {"name": "Fay", "role": "bench", "secret": pin, "_key": "f" * 30, "_page": "/people"}
    assert client.post("/people", data=form).status_code == 303
    sent = {"name": "Gus", "role": "bench", "secret": pin}
    key = {"idempotency-key": "g" * 30}
    assert client.post("/api/people", json=sent, headers=key).status_code == 201
    assert client.post("/sign-in", data={"name": "Gus", "secret": pin}).status_code == 303
    kept = everything(staff)
    assert pin not in kept
    # the digests of what was sent, by whoever goes through all pins: those without it
    written = client.app.state.workshop.writes
    assert written.known("f" * 30).digest != digest(form, "/people")
    assert written.known("g" * 30) is not None
    assert client.cookies["session"] not in kept
    other = client.post("/people", data=form | {"secret": "999999"})
    # the same key with another pin: what was sent is the same as far as anything is kept of it
    assert other.status_code in {303, 403}


def digest(form, path):
    """What is kept of a form with all of its fields, the secret too."""
    whole = hashlib.sha256(f"POST {path}?\n".encode())
    for name in sorted(set(form) - {"_key", "_page"}):
        text = form[name].encode()
        whole.update(f"\n{name} {len(text)} ".encode() + text)
    return whole.hexdigest()
