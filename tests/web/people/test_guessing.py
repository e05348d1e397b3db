"""Guessing is slowed by name and by address, and keeps no colleague out."""

import pytest
from fastapi.testclient import TestClient
from tests.web.people.conftest import PINS

from counterpoise.web.app import create_app
from counterpoise.web.network.patience import Patience


@pytest.fixture
def now():
    return [1000.0]


@pytest.fixture
def browser(staff, now):
    """A browser at an address of the network."""
    app = create_app(staff)
    app.state.patience = Patience(lambda: now[0])

    def at(address):
        return TestClient(
            app, base_url="http://localhost", follow_redirects=False, client=(address, 5000)
        )

    return at


def tried(client, name, secret):
    return client.post("/api/sign-in", json={"name": name, "secret": secret})


def test_a_name_is_slowed_from_wherever_it_is_tried(browser, now, staff, monkeypatch):
    clients = [browser(f"10.0.0.{n}") for n in range(1, 9)]
    answers = [tried(client, "Ada", f"99999{n}").status_code for n, client in enumerate(clients)]
    assert answers == [401] * 6 + [429] * 2
    # not even looked at: the right one is refused as well, and costs no work
    monkeypatch.setattr(staff.people, "checked", None)
    slowed = tried(clients[0], "ADA", PINS["Ada"])
    assert slowed.status_code == 429
    assert "Wait 1 seconds" in slowed.json()["remedy"]
    monkeypatch.undo()
    now[0] += 1.1
    assert tried(clients[0], "Ada", PINS["Ada"]).status_code == 200
    # forgiven with the right one
    assert tried(clients[1], "Ada", "999999").status_code == 401


def test_the_wait_doubles_up_to_a_minute(browser, now):
    client = browser("10.0.0.1")
    waits = []
    for _ in range(14):
        tried(client, "Ada", "999999")
        said = tried(client, "Ada", "999999").json()["remedy"]
        waits.append(int(said.split()[1]) if said.startswith("Wait") else 0)
        now[0] += waits[-1] + 0.1
    assert max(waits) == 60
    assert waits == sorted(waits)


def test_an_address_is_slowed_whatever_the_names(browser, now):
    client = browser("10.0.0.1")
    answers = [tried(client, f"name {n}", "999999").status_code for n in range(23)]
    assert answers == [401] * 21 + [429] * 2
    # nobody else's address waits
    assert tried(browser("10.0.0.2"), "Ben", PINS["Ben"]).status_code == 200


def test_a_pin_of_ones_own_does_not_buy_more_guesses(browser, now):
    client = browser("10.0.0.1")
    for n in range(21):
        assert tried(client, f"name {n}", "999999").status_code == 401
        client.cookies.clear()
        now[0] += 0.01
        if n < 20:
            assert tried(client, "Ben", PINS["Ben"]).status_code == 200
            client.cookies.clear()
    assert tried(client, "Ben", PINS["Ben"]).status_code == 429


def test_a_colleague_is_not_locked_out(browser, now, staff):
    ada, stranger = browser("10.0.0.7"), browser("10.0.0.9")
    assert tried(ada, "Ada", PINS["Ada"]).status_code == 200
    # somebody goes on guessing at her name, and at others, from her own address too
    for n in range(30):
        tried(stranger, "Ada", f"99{n:04}")
        tried(browser("10.0.0.7"), f"name {n}", "999999")
    assert tried(stranger, "Ada", PINS["Ada"]).status_code == 429
    # her session has run out, her browser is known as hers
    with staff.store.database.writing() as connection:
        connection.exec_driver_sql("UPDATE sessions SET begun = '2026-02-20T09:00:00Z'")
    assert ada.get("/api/jobs").status_code == 401
    assert tried(ada, "Ada", PINS["Ada"]).status_code == 200
    # which is no way to guess at it without end
    answers = [tried(ada, "Ada", "999999").status_code for _ in range(8)]
    assert answers == [401] * 6 + [429] * 2
    # and a colleague who was never here comes in from another address at once
    assert tried(browser("10.0.0.8"), "Cleo", PINS["Cleo"]).status_code == 200
