"""Price lists on pages: what they would change, the broken lines, taking in on request alone."""

import pytest
from fastapi.testclient import TestClient
from tests.workshop.price_files import BROKEN, FAMILIES, long_list

from counterpoise.workshop.services.workshop import Workshop


@pytest.fixture
def shop(app, store):
    app.state.workshop = Workshop(store, FAMILIES)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened


def look(shop, data, **told):
    return shop.post(
        "/prices/preview", data={"supplier": "Nordlicht"} | told, files={"file": ("list.csv", data)}
    )


def held(page):
    return {
        name: page.split(f'name="{name}" value="')[1].split('"')[0] for name in ("held", "last")
    }


def test_a_list_is_shown_then_taken_in_then_taken_back(shop, store):
    page = look(shop, b"part;price\nrotor;80,00\n").text
    assert "Rotor with magnets" in page
    assert "the catalog says 89.00 EUR each" in page
    assert store.prices.book().lists == ()
    assert (
        shop.post("/prices/import", data=held(page) | {"by": "Ada"}).headers["location"]
        == "/prices"
    )
    assert store.prices.book().prices[0].line.price_minor == 8000
    assert "Nordlicht: 1 price" in shop.get("/prices").text
    assert "front_loader/rotor" in shop.get("/prices.csv").text
    shop.post("/prices/retractions", data={"list": "1"})
    assert "taken back" in shop.get("/prices").text


def test_broken_lines_are_named_and_left_out_on_request_only(shop, store):
    page = look(shop, long_list()).text
    for line, (_, _, said) in BROKEN.items():
        assert f"Line {line}" in page
        assert said in page
    refused = shop.post("/prices/import", data=held(page))
    assert refused.status_code == 422
    assert "20 lines are broken" in refused.text
    assert store.prices.book().lists == ()
    assert shop.post("/prices/import", data=held(page) | {"leave_out": "yes"}).status_code == 303
    assert len(store.prices.book().prices) == 980


def test_a_list_that_is_no_longer_at_hand_is_asked_for_again(shop):
    answer = shop.post("/prices/import", data={"held": "0" * 32})
    assert answer.status_code == 422
    assert "Choose the file again" in answer.text


def test_what_another_took_in_meanwhile_is_not_written_over_unseen(shop):
    first = look(shop, b"part;price\nrotor;80,00\n").text
    second = look(shop, b"part;price\nrotor;81,00\n").text
    assert shop.post("/prices/import", data=held(second)).status_code == 303
    assert shop.post("/prices/import", data=held(first)).status_code == 409


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04x", b"\x00\x01", b"a;b\n1;2\n"])
def test_what_is_no_list_is_said(shop, data):
    assert look(shop, data).status_code == 422
    assert shop.post("/api/prices/preview?supplier=N", content=data).json()["remedy"]


def test_the_twin_does_the_same(shop):
    data = b"our part;EK\nrotor;80,00\nrotr;1\n"
    told = {"supplier": "Nordlicht", "column": ["part=our part", "price=2"]}
    found = shop.post("/api/prices/preview", params=told, content=data).json()
    assert (found["taken"], found["broken"], found["faults"][0]["line"]) == (1, 1, 3)
    assert "Did you mean rotor?" in found["faults"][0]["remedy"]
    assert shop.post("/api/prices/import", params=told, content=data).status_code == 422
    done = shop.post("/api/prices/import", params=told | {"leave_out": "true"}, content=data)
    assert (done.status_code, done.json()["lines"]) == (201, 1)
    assert shop.post("/api/prices/retractions", json={"list": 1}).json()["lists"][0]["gone"]


def test_a_formula_is_shown_as_text(shop):
    page = look(shop, b"part;price;maker\nrotor;80,00;<script>=1\n").text
    assert "<script>" not in page
