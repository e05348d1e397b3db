import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import STOCKED, ForeseeableWorkshop
from tests.workshop.people.quick import quick

from counterpoise.web.app import create_app
from counterpoise.workshop.services.people import People

PINS = {"Ada": "271828", "Ben": "314159", "Cleo": "161803"}
ROLES = {"Ada": "owner", "Ben": "bench", "Cleo": "counter"}


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": STOCKED})


@pytest.fixture
def staff(workshop):
    """Ada is the owner, Ben at the bench, Cleo at the counter."""
    workshop.people = People(workshop.store, quick())
    for name, pin in PINS.items():
        workshop.people.add(name, ROLES[name], pin)
    return workshop


@pytest.fixture
def guest(staff):
    """A browser in which nobody is signed in."""
    with TestClient(
        create_app(staff), base_url="http://localhost", follow_redirects=False
    ) as opened:
        yield opened


@pytest.fixture
def as_somebody(guest):
    """The browser with somebody signed in, by name."""

    def sign_in(name):
        guest.cookies.clear()
        answer = guest.post("/sign-in", data={"name": name, "secret": PINS[name]})
        assert answer.status_code == 303
        return guest

    return sign_in
