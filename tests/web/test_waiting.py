"""What takes longer than a moment: a page that asks again, 202 for a program, and then the answer."""

import re
import threading

import pytest
from fastapi import FastAPI, Response
from fastapi.testclient import TestClient

from counterpoise.web.waiting import MOST, Waiting, Waits

BROWSER = {"accept": "text/html"}


class Slow:
    """An application whose answers take until they are let go."""

    def __init__(self, patience=0.05):
        self.go, self.asked, self.waits = threading.Event(), 0, Waits(patience)
        self.app = FastAPI()
        self.app.get("/jobs/{number}/recording/{name}/fit")(self.page)
        self.app.get("/api/jobs/{number}")(self.page)
        self.app.get("/api/quick")(lambda: {"done": True})
        self.app.post("/jobs/{number}/findings")(lambda number: {"written": number})
        self.app.add_middleware(Waiting, waits=self.waits)

    def page(self):
        self.asked += 1
        self.go.wait(20)
        return Response(f"answer {self.asked}", headers={"x-here": "1"})


@pytest.fixture
def slow():
    made = Slow()
    yield made
    made.go.set()


@pytest.fixture
def client(slow):
    with TestClient(slow.app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened
        slow.go.set()


def until_ready(slow):
    slow.go.set()
    for question in list(slow.waits.questions.values()):
        for _ in range(200):
            if question.ready.is_set():
                break
            threading.Event().wait(0.01)


FIT = "/jobs/7/recording/0123456789abcdef/fit?load=2%2C5&free=a&free=b"


def test_a_browser_is_told_how_far_it_is_and_then_gets_the_answer_that_was_begun(slow, client):
    told = client.get(FIT, headers=BROWSER)
    assert told.status_code == 202
    again = re.search(r'http-equiv="refresh" content="1; url=([^"]+)"', told.text)[1]
    assert again.replace("&amp;", "&") == FIT
    assert "Fitting the machine" in told.text
    assert "About 40 s" in told.text
    assert "<progress" in told.text
    assert client.get(FIT, headers=BROWSER).status_code == 202
    until_ready(slow)
    answer = client.get(FIT, headers=BROWSER)
    assert (answer.status_code, answer.text, answer.headers["x-here"]) == (200, "answer 1", "1")
    # an answer is handed out once: who asks anew is answered anew
    assert client.get(FIT, headers=BROWSER).text == "answer 2"


def test_a_program_is_told_where_to_ask_or_waits_as_long_as_it_says(slow, client):
    told = client.get("/api/jobs/7?careful=1")
    assert (told.status_code, told.headers["location"]) == (202, "/api/jobs/7?careful=1")
    assert told.json()["again"] == "/api/jobs/7?careful=1"
    assert told.json()["expected_seconds"] > 0
    assert int(told.headers["retry-after"]) >= 1
    threading.Timer(0.3, slow.go.set).start()
    assert client.get("/api/jobs/7?careful=1&wait=20").text == "answer 1"
    assert slow.asked == 1


@pytest.mark.parametrize("wait", ["nan", "-1", "abc"])
def test_a_wait_that_cannot_be_meant_waits_as_usual(slow, client, wait):
    assert client.get(f"/api/jobs/7?wait={wait}").status_code == 202


def test_what_was_begun_before_somebody_wrote_is_worked_out_anew(slow, client):
    assert client.get(FIT, headers=BROWSER).status_code == 202
    until_ready(slow)
    assert client.post("/jobs/7/findings").json() == {"written": "7"}
    assert client.get(FIT, headers=BROWSER).text == "answer 2"


def test_another_browser_does_not_get_the_answer_of_this_one(slow, client):
    assert client.get(FIT, headers={**BROWSER, "cookie": "hand=ada"}).status_code == 202
    until_ready(slow)
    assert client.get(FIT, headers={**BROWSER, "cookie": "hand=bo"}).text == "answer 2"


def test_what_is_quick_is_answered_as_ever():
    quick = Slow(patience=20.0)
    assert TestClient(quick.app).get("/api/quick").json() == {"done": True}
    assert not quick.waits.questions


def test_pictures_are_answered_as_ever(slow, client):
    slow.go.set()
    assert client.get(FIT, headers={"accept": "image/svg+xml"}).text == "answer 1"
    assert not slow.waits.questions


def test_no_more_is_worked_out_at_once_than_is_bounded(slow, client):
    for number in range(MOST):
        assert client.get(f"/api/jobs/{number}").status_code == 202
    threading.Timer(0.2, slow.go.set).start()
    # who comes then waits, and is answered
    assert client.get("/api/jobs/99").status_code == 200
    assert len(slow.waits.questions) == MOST


def test_where_whoever_asks_waits_anyway_nothing_stands_between():
    made = Slow(patience=float("inf"))
    made.go.set()
    with TestClient(made.app, base_url="http://localhost") as opened:
        assert opened.get(FIT, headers=BROWSER).text == "answer 1"
    assert not made.waits.questions
