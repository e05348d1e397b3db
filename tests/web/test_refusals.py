"""What is refused before it is read, and what every answer carries: the limits on their own."""

import asyncio

import pytest
from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse

from counterpoise.web.request_limits import HEADERS, MOST_BYTES, RequestLimits, loopback, refusal


def refused(method="GET", **headers):
    """The status of a refusal, None where the request may pass."""
    sent = {"host": "localhost"} | {name.replace("_", "-"): text for name, text in headers.items()}
    answer = refusal(method, Headers(sent), loopback)
    return answer and answer[0]


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8642", "127.0.0.1", "[::1]:8642"])
def test_this_machine_passes_under_each_of_its_names(host):
    assert refused(host=host) is None


@pytest.mark.parametrize("host", ["localhost.evil.example", "evil.example", "[::1", ""])
def test_a_name_that_only_looks_like_it_does_not(host):
    assert refused(host=host) == 400


@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS"])
def test_a_link_from_elsewhere_may_lead_here(method):
    assert refused(method, origin="http://evil.example", sec_fetch_site="cross-site") is None


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "TRACE"])
def test_nothing_is_changed_from_elsewhere(method):
    assert refused(method, origin="http://evil.example") == 403
    assert refused(method, sec_fetch_site="same-site") == 403
    assert refused(method, origin="http://localhost") is None
    assert refused(method, sec_fetch_site="none") is None
    # a program without a browser
    assert refused(method) is None


def test_another_port_of_this_machine_is_elsewhere():
    assert refused("POST", host="localhost:8642", origin="http://localhost:9000") == 403
    assert refused("POST", host="localhost:8642", origin="http://localhost:8642") is None


@pytest.mark.parametrize(
    ("length", "status"),
    [("0", None), (str(MOST_BYTES), None), (str(MOST_BYTES + 1), 413), ("-1", 413), ("1e3", 413),
     ("", 413), ("9" * 40, 413)],
)  # fmt: skip
def test_the_length_is_judged_before_the_body(length, status):
    assert refused("POST", content_length=length) == status


def test_the_first_reason_is_the_one_told():
    assert refused("POST", host="evil.example", origin="http://evil.example") == 400


def answered(app, scope_type="http"):
    """What an application behind the limits sends, with an empty request."""
    sent = []

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    scope = {"type": scope_type, "method": "GET", "path": "/", "headers": [(b"host", b"localhost")]}
    limits = RequestLimits(app, loopback, lambda *_: PlainTextResponse("refused", 400))
    asyncio.run(limits(scope, receive, send))
    return sent


def test_an_answer_may_say_otherwise_and_the_rest_is_added():
    own = {"cache-control": "max-age=5", "x-frame-options": "SAMEORIGIN"}
    headers = Headers(raw=answered(PlainTextResponse("x", headers=own))[0]["headers"])
    assert headers["cache-control"] == "max-age=5"
    assert headers["x-frame-options"] == "SAMEORIGIN"
    for name in HEADERS.keys() - own.keys():
        assert headers[name] == HEADERS[name]


def test_what_says_nothing_is_never_stored():
    headers = Headers(raw=answered(PlainTextResponse("x"))[0]["headers"])
    assert headers["cache-control"] == "no-store"
    assert "connection" not in headers


def test_the_start_of_the_server_is_not_a_request():
    reached = []

    async def app(scope, receive, send):
        reached.append(scope["type"])

    assert answered(app, "lifespan") == []
    assert reached == ["lifespan"]
