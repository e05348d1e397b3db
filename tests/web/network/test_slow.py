"""Slow senders: a head that never ends, a body that drips, an answer that is not taken."""

import contextlib
import socket
import time
from http.client import HTTPConnection
from threading import Thread

import pytest
import uvicorn
from fastapi import Response

from counterpoise.web import request_limits
from counterpoise.web.app import create_app
from counterpoise.web.network.slow import Impatient

BODY = b"POST /theme HTTP/1.1\r\nHost: localhost\r\nContent-Length: 900\r\n"
BODY += b"Content-Type: application/x-www-form-urlencoded\r\n\r\ntheme="


class _Hasty(Impatient):
    head_s = 0.4
    taking_s = 0.4


@pytest.fixture(scope="module")
def at():
    app = create_app(None)

    @app.get("/much")
    def much():
        # more than two machines keep on the line between them
        return Response(b"x" * 30_000_000)

    listening = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(app, http=_Hasty, ws="none", log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(request_limits, "SILENCE_S", 0.4)
        patch.setattr(request_limits, "PATIENT_S", 0.8)
        thread = Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield listening.getsockname(), server
        server.should_exit = True
        thread.join(10)


def _opened(place, sent=b""):
    line = socket.create_connection(place)
    line.settimeout(10)
    line.sendall(sent)
    return line


def _until_closed(line):
    """All that still comes, and after how many seconds the line was closed."""
    begun, came = time.monotonic(), b""
    with contextlib.suppress(ConnectionError):
        while piece := line.recv(65536):
            came += piece
    return came, time.monotonic() - begun


def test_sixty_lines_that_never_end_their_head_are_let_go(at):
    place, server = at
    silent = [_opened(place) for _ in range(20)]
    half = [_opened(place, b"GET /mark.svg HTTP/1.1\r\nHost: local") for _ in range(20)]
    dripping = [_opened(place, b"GET /mark.svg HTTP/1.1\r\n") for _ in range(20)]
    until = time.monotonic() + 1.5
    while time.monotonic() < until:
        for line in dripping:
            # a letter now and then does not lengthen the wait
            with contextlib.suppress(OSError):
                line.sendall(b"X")
        time.sleep(0.1)
    waiting = [line for line in (*silent, *half, *dripping) if _until_closed(line)[1] > 1]
    assert waiting == []
    assert len(server.server_state.connections) == 0
    for line in (*silent, *half, *dripping):
        line.close()


def test_a_body_that_stops_is_answered_and_let_go(at):
    place, _ = at
    with _opened(place, BODY) as line:
        came, seconds = _until_closed(line)
    assert came.startswith(b"HTTP/1.1 408")
    assert b"came too slowly" in came
    assert seconds < 3


def test_a_body_that_drips_is_let_go_too(at):
    place, _ = at
    line = _opened(place, BODY)
    begun = time.monotonic()
    with contextlib.suppress(ConnectionError):
        for _ in range(60):
            line.sendall(b"x")
            time.sleep(0.1)
    assert time.monotonic() - begun < 4
    line.close()


def test_an_answer_that_is_not_taken_holds_nothing_for_long(at):
    place, server = at
    line = _opened(place, b"GET /much HTTP/1.1\r\nHost: localhost\r\n\r\n")
    time.sleep(1.5)
    assert len(server.server_state.connections) == 0
    line.close()


def test_whoever_is_quick_is_served_and_may_ask_again(at):
    place, _ = at
    line = HTTPConnection(*place, timeout=10)
    for _ in range(3):
        line.request("GET", "/mark.svg")
        answer = line.getresponse()
        assert (answer.status, answer.read()[:4]) == (200, b"<svg")
        time.sleep(0.2)
    line.close()
