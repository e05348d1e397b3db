import asyncio
import json
import re

import pytest
from fastapi.testclient import TestClient

from counterpoise.web.app import create_app
from counterpoise.web.render import script_mark
from counterpoise.web.request_limits import (
    MOST_BYTES,
    MOST_BYTES_AT_ONCE,
    RequestLimits,
    local_network,
    loopback,
)

ANSWER = {"check": "new_place", "outcome": "no", "last": "1"}


def test_every_answer_carries_the_protective_headers(client, number):
    for path in ("/jobs", f"/jobs/{number}", "/style.css", "/jobs/99", "/nowhere", "/api/jobs"):
        headers = client.get(path).headers
        assert "script-src 'self';" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert "default-src 'none'" in headers["content-security-policy"]
        # a page's script asks nobody but us
        assert "connect-src 'self';" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_no_page_holds_a_script_or_a_style_of_its_own(client, number):
    for path in (
        "/jobs",
        "/jobs/new",
        f"/jobs/{number}",
        f"/jobs/{number}/decision",
        f"/jobs/{number}/sheet",
        "/settings",
    ):
        text = client.get(path).text
        # one file of ours, and no word of a page is ever run
        assert re.findall(r"<script[^>]*>", text) == [
            f'<script src="/press.js?{script_mark()}" defer>'
        ]
        assert "defer></script>" in text
        assert "<style" not in text
        assert " style=" not in text
        assert " on" + "click=" not in text


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8642", "127.0.0.1.evil.example", "", "[::1"]
)
def test_a_foreign_host_is_refused(client, host):
    answer = client.get("/jobs", headers={"host": host})
    assert answer.status_code == 400
    assert "not one of this workshop" in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://localhost:9"},
        {"referer": "http://evil.example/jobs/1"},
        {"referer": "http://localhost:9/"},
        {"referer": "nonsense"},
        {"referer": "http://[::1/"},
        {"origin": "http://localhost", "referer": "http://evil.example/"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_form_from_elsewhere_changes_nothing(client, workshop, number, headers):
    for path in (f"/jobs/{number}/findings", f"/api/jobs/{number}/findings"):
        assert client.post(path, data=ANSWER, headers=headers).status_code == 403
    assert len(workshop.jobs.get(number).entries) == 1


def test_a_form_of_an_old_browser_that_names_its_page_is_taken(client, workshop, number):
    headers = {"referer": f"http://localhost/jobs/{number}"}
    assert client.post(f"/jobs/{number}/findings", data=ANSWER, headers=headers).status_code == 303
    assert len(workshop.jobs.get(number).entries) == 2


def test_over_a_protected_line_every_cookie_stays_on_protected_lines(client, app, number):
    with TestClient(app, base_url="https://localhost", follow_redirects=False) as protected:
        for path, data in (
            (f"/jobs/{number}/findings", ANSWER | {"by": "ada"}),
            ("/theme", {"theme": "dark"}),
            ("/theme", {"theme": ""}),
        ):
            cookies = protected.post(path, data=data).headers.get_list("set-cookie")
            assert cookies
            assert all("; secure" in each.lower() for each in cookies)
    # on this computer's own plain line it would never come back
    plain = client.post("/theme", data={"theme": "dark"}).headers["set-cookie"]
    assert "secure" not in plain.lower()


def test_more_than_a_few_large_bodies_at_once_wait(client, monkeypatch, workshop, number):
    monkeypatch.setattr(RequestLimits, "taking", MOST_BYTES_AT_ONCE - 10)
    refused = client.post(f"/api/jobs/{number}/notes", json={"text": "a note of some length"})
    assert refused.status_code == 503
    assert "Send it again in a moment" in refused.json()["remedy"]
    assert len(workshop.jobs.get(number).entries) == 1
    # whoever only reads brings nothing
    assert client.get("/api/jobs").status_code == 200
    monkeypatch.setattr(RequestLimits, "taking", 0)
    assert client.post(f"/api/jobs/{number}/notes", json={"text": "a note"}).status_code == 201
    assert RequestLimits.taking == 0


def test_a_form_from_the_page_itself_is_taken(client, workshop, number):
    headers = {"origin": "http://localhost", "sec-fetch-site": "same-origin"}
    assert client.post(f"/jobs/{number}/findings", data=ANSWER, headers=headers).status_code == 303
    assert len(workshop.jobs.get(number).entries) == 2


def test_a_flood_is_refused_before_a_byte_of_it_is_read(workshop, number):
    said = []

    async def receive():
        raise AssertionError("the body was read")

    async def send(message):
        said.append(message)

    headers = [(b"host", b"localhost"), (b"content-length", str(50 * 2**20).encode())]
    scope = {
        "type": "http",
        "method": "POST",
        "path": f"/api/jobs/{number}/notes",
        "headers": headers,
    }
    scope |= {
        "query_string": b"",
        "http_version": "1.1",
        "scheme": "http",
        "root_path": "",
        "server": ("localhost", 80),
    }
    asyncio.run(create_app(workshop)(scope, receive, send))
    assert said[0]["status"] == 413
    assert (b"connection", b"close") in said[0]["headers"]
    assert "20 MB" in json.loads(said[1]["body"])["what"]
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize("path", ["/jobs/1/notes", "/api/jobs/1/notes", "/api/photos"])
def test_a_body_that_hides_its_length_is_stopped(client, workshop, number, path):
    def flood():
        for _ in range(1 + MOST_BYTES // 2**20):
            yield b"x" * 2**20

    answer = client.post(
        path, content=flood(), headers={"content-type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 413
    assert len(workshop.jobs.get(number).entries) == 1


def test_a_lying_length_is_refused(client, number):
    answer = client.post(f"/jobs/{number}/notes", content=b"", headers={"content-length": "-5"})
    assert answer.status_code in {400, 413}


def test_on_the_local_network_plain_addresses_pass_and_foreign_names_do_not():
    assert local_network("192.168.7.20")
    assert local_network("fe80::1")
    assert not local_network("workshop.example")
    assert not loopback("192.168.7.20")
