"""Phones and people: whose a phone is, and what a phone may not do."""

import ipaddress
from types import SimpleNamespace

import pytest
from fastapi.testclient import TestClient
from tests.web.people.conftest import PINS

from counterpoise.web.app import create_app
from counterpoise.web.network.access import PhoneAccess
from counterpoise.web.network.addresses import Names
from counterpoise.web.network.pairing import Pairing
from counterpoise.web.pages.workshop.phone import code_for
from counterpoise.web.request_limits import loopback

ORIGIN = "https://192.168.7.20:8643"
NAMES = Names(ipaddress.ip_address("192.168.7.20"), ("bench",))


@pytest.fixture
def phones():
    return PhoneAccess(SimpleNamespace(), Pairing(ORIGIN), NAMES, "http://192.168.7.20:8644")


def phone_of(workshop, phones):
    app = create_app(workshop, lambda host: host == "192.168.7.20", phones, gated=True)
    return TestClient(app, base_url=ORIGIN, follow_redirects=False)


def path_of(code):
    return code.removeprefix(ORIGIN)


def test_a_phone_belongs_to_who_made_its_code(staff, phones, number):
    own = create_app(staff, loopback, phones)
    request = SimpleNamespace(app=own, scope={"state": {"person": staff.people.get(2)}})
    code = code_for(request, f"/jobs/{number}").address
    phone = phone_of(staff, phones)
    led = phone.get(path_of(code))
    assert (led.status_code, led.headers["location"]) == (303, f"/jobs/{number}")
    assert phone.get("/api/sign-in").json()["name"] == "Ben"
    # the code is used up: no other phone becomes his, nor this one again
    assert phone_of(staff, phones).get(path_of(code)).status_code == 403
    (session,) = staff.people.sessions()
    staff.people.end(session.id, staff.people.get(1))
    assert phone.get(path_of(code)).status_code == 303
    assert phone.get("/jobs").headers["location"].startswith("/sign-in")


def test_a_phone_that_is_known_can_become_somebody_elses(staff, phones):
    phone = phone_of(staff, phones)
    phone.get(path_of(phones.pairing.new_code("/jobs")))
    assert phone.get("/jobs").headers["location"].startswith("/sign-in")
    code = path_of(phones.pairing.new_code("/jobs", person=2))
    phone.get(code)
    assert phone.get("/api/sign-in").json()["name"] == "Ben"
    phone.post("/sign-out")
    phone.get(code)
    assert phone.get("/api/jobs").status_code == 401
    assert phone.post("/sign-in", data={"name": "Cleo", "secret": PINS["Cleo"]}).status_code == 303
    assert phone.get("/api/sign-in").json()["name"] == "Cleo"


def test_the_code_of_somebody_who_is_gone_makes_nobody_of_a_phone(staff, phones):
    code = path_of(phones.pairing.new_code("/jobs", person=2))
    staff.people.change(2, "bench", active=False)
    phone = phone_of(staff, phones)
    assert phone.get(code).status_code == 303
    assert phone.get("/api/jobs").status_code == 401


def test_a_phone_that_was_not_let_in_does_not_even_sign_in(staff, phones):
    phone = phone_of(staff, phones)
    assert phone.get("/sign-in").status_code == 401
    answer = phone.post("/sign-in", data={"name": "Ada", "secret": PINS["Ada"]})
    assert (answer.status_code, "let in" in answer.text) == (401, True)
    assert staff.people.sessions() == []


def test_a_phone_cannot_make_the_first_owner(workshop, phones):
    phone = phone_of(workshop, phones)
    phone.get(path_of(phones.pairing.new_code("/jobs")))
    made = phone.post("/people", data={"name": "Eve", "role": "owner", "secret": "271828"})
    assert made.status_code == 403
    assert "at the workshop&#39;s computer" in made.text
    sent = phone.post("/api/people", json={"name": "Eve", "role": "owner", "secret": "271828"})
    assert sent.status_code == 403
    assert not workshop.people.any()
