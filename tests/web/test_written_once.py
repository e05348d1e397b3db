"""A double tap, a page gone back to, two tabs, a lost answer: nothing is written twice, nothing is lost."""

import itertools
import random
import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import FAMILY, INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.web.pages.job import bench
from counterpoise.workshop.jobs.entries import Note
from counterpoise.workshop.store.store import Store

_FIELD = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)">')


def form_of(text, action):
    """The hidden fields of the form on a page that goes to an address."""
    start = text.index(f'action="{action}"')
    return dict(_FIELD.findall(text[start : text.index("</form>", start)]))


def bodies(workshop, number):
    return [entry.body for entry in workshop.jobs.get(number).entries[1:]]


@pytest.fixture
def finding(client, number):
    """A form of the bench page as a tab holds it, with an answer."""
    action = f"/jobs/{number}/findings"
    form = form_of(client.get(f"/jobs/{number}").text, action)
    return action, form | {"outcome": "could_not_tell"}


def test_a_double_tap_is_written_once_and_answered_alike(client, workshop, number, finding):
    action, form = finding
    first, second = (client.post(action, data=form | {"by": "ada"}) for _ in range(2))
    assert (first.status_code, first.headers["location"]) == (303, f"/jobs/{number}")
    for name in ("location", "set-cookie"):
        assert second.headers[name] == first.headers[name]
    assert (second.status_code, second.content) == (303, first.content)
    assert len(bodies(workshop, number)) == 1


def test_two_at_the_very_same_time_are_written_once(client, workshop, number, finding):
    action, form = finding
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda _: client.post(action, data=form), range(4)))
    assert {answer.status_code for answer in answers} == {303}
    assert len(bodies(workshop, number)) == 1


def test_every_form_that_writes_has_a_key_of_its_own(client, number):
    for path in (
        f"/jobs/{number}",
        f"/jobs/{number}/evidence",
        "/jobs/new",
        "/settings",
        "/prices",
    ):
        text = client.get(path).text
        keys = re.findall(r'name="_key" value="([^"]+)"', text)
        assert len(keys) == len(set(keys)) == text.count('method="post"') > 0
        assert f'name="_page" value="{path}"' in text


def test_the_same_from_two_tabs_is_known_as_the_same(client, workshop, number, finding):
    action, form = finding
    other = form_of(client.get(f"/jobs/{number}").text, action) | {"outcome": "could_not_tell"}
    assert other["_key"] != form["_key"]
    assert client.post(action, data=form).status_code == 303
    answer = client.post(action, data=other)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{number}")
    assert len(bodies(workshop, number)) == 1


def test_what_was_written_meanwhile_is_shown_and_both_can_be_kept(
    client, workshop, number, finding
):
    action, form = finding
    workshop.jobs.record(number, Note("the belt is new"), by="cleo")
    answer = client.post(action, data=form | {"note": "from above"})
    assert answer.status_code == 409
    assert "cleo: the belt is new" in answer.text
    assert "could not tell (from above)" in answer.text
    assert len(bodies(workshop, number)) == 1
    again = form_of(answer.text, action)
    assert (again["_key"], again["last"]) == (form["_key"], "2")
    assert [client.post(action, data=again).status_code for _ in range(2)] == [303, 303]
    assert [type(body).__name__ for body in bodies(workshop, number)] == ["Note", "Finding"]
    assert bodies(workshop, number)[1].note == "from above"


def test_a_form_that_comes_again_with_something_else_is_asked_about(
    client, workshop, number, finding
):
    action, form = finding
    client.post(action, data=form)
    answer = client.post(action, data=form | {"outcome": "cannot_reach"})
    assert answer.status_code == 409
    assert "This form was saved already" in answer.text
    assert "could not tell" in answer.text
    again = form_of(answer.text, action)
    assert again["_key"] != form["_key"]
    assert client.post(action, data=again).status_code == 303
    assert [body.outcome for body in bodies(workshop, number)] == ["could_not_tell", "cannot_reach"]


def test_a_machine_sent_twice_comes_in_once(client, workshop):
    form = form_of(client.get("/jobs/new").text, "/jobs") | {
        "owner": "customer",
        "complaints": "shakes",
    }
    first, second = (client.post("/jobs", data=form) for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert len(workshop.jobs.lines()) == 1


def test_shelf_settings_and_prices_are_written_once(client, workshop):
    client.app.state.workshop = workshop = ForeseeableWorkshop(workshop.store, {"bench": STOCKED})
    address = "/stock/bench/pump"
    form = form_of(client.get(address).text, address) | {"kind": "new", "count": "3"}
    assert [client.post(address, data=form).status_code for _ in range(2)] == [303, 303]
    (lot,) = workshop.stock.book().lots
    assert lot.pieces == 3
    key = {"Idempotency-Key": "settings of monday"}
    first, second = (
        client.post("/api/settings", json={"changes": {"people": 3}}, headers=key) for _ in range(2)
    )
    assert (first.status_code, first.json()) == (second.status_code, second.json())


def test_json_with_a_key_is_answered_as_before(client, workshop, number):
    sent = {"check": "new_place", "outcome": "no", "expected_last": 1}
    address, key = f"/api/jobs/{number}/findings", {"Idempotency-Key": '"a-7"'}
    first, second = (client.post(address, json=sent, headers=key) for _ in range(2))
    assert first.status_code == second.status_code == 201
    assert first.json() == second.json()
    assert len(bodies(workshop, number)) == 1
    other = client.post(address, json=sent | {"outcome": "yes"}, headers=key)
    assert (other.status_code, other.json()["field"]) == (422, "Idempotency-Key")
    bad = client.post(address, json=sent, headers={"Idempotency-Key": "x" * 101})
    assert (bad.status_code, bad.json()["field"]) == (422, "Idempotency-Key")


def test_what_was_refused_may_be_sent_again_under_its_key(client, workshop, number):
    address, key = f"/api/jobs/{number}/findings", {"Idempotency-Key": "a-8"}
    refused = client.post(address, json={"check": "none", "outcome": "no"}, headers=key)
    assert refused.status_code == 422
    right = client.post(address, json={"check": "new_place", "outcome": "no"}, headers=key)
    assert right.status_code == 201


def test_killed_after_it_was_written_the_same_again_writes_nothing(
    app, client, workshop, number, monkeypatch
):
    """The answer is never given: what was written is on disk by then, with its key."""

    def killed(*_):
        workshop.store.writes.settle()
        raise RuntimeError

    address, key = f"/api/jobs/{number}/findings", {"Idempotency-Key": "a-9"}
    sent = {"check": "new_place", "outcome": "no"}
    with (
        monkeypatch.context() as patched,
        TestClient(app, base_url="http://localhost", raise_server_exceptions=False) as unlucky,
    ):
        patched.setattr(bench, "recorded", killed)
        assert unlucky.post(address, json=sent, headers=key).status_code == 500
    again = client.post(address, json=sent, headers=key)
    assert (again.status_code, again.json()["entry"]) == (201, 2)
    assert len(bodies(workshop, number)) == 1


def test_all_of_a_request_is_written_or_nothing(workshop, number):
    """Left before its answer is known: nothing of it is there, though it was read in between."""
    with workshop.writes.under("b-1", "digest"):
        workshop.jobs.record(number, Note("first"))
        assert len(bodies(workshop, number)) == 1
    assert bodies(workshop, number) == []
    assert workshop.writes.known("b-1") is None


class Person:
    """Somebody with tabs and a bad line; ``meant`` is what they have meant to write, each once."""

    def __init__(self, client, number, chance):
        self.client, self.number, self.chance = client, number, chance
        self.action = f"/jobs/{number}/findings"
        self.page = f"/jobs/{number}/steps/check/new_place"
        self.tabs, self.gone, self.meant = [], [], []

    def look(self):
        self.tabs.append(form_of(self.client.get(self.page).text, self.action))

    def write(self):
        """Tap an answer in a tab: once, twice, or again after the line was lost."""
        if not self.tabs:
            self.look()
        form = self.tabs.pop(self.chance.randrange(len(self.tabs)))
        form |= {"outcome": self.chance.choice(["could_not_tell", "cannot_reach"])}
        form["note"] = f"meant {len(self.meant)}"
        self.meant.append(form["note"])
        self.gone.append(form)
        self.send(form)

    def again(self):
        """Go back to a form that was sent, and send it again as it was."""
        if self.gone:
            self.send(self.chance.choice(self.gone))

    def change(self):
        """Go back to a form that was sent, and send it with something else."""
        if self.gone:
            form = self.chance.choice(self.gone) | {"note": f"meant {len(self.meant)}"}
            self.meant.append(form["note"])
            self.send(form)

    def program(self):
        """A program writes under a key, and again as it got no answer."""
        note = f"meant {len(self.meant)}"
        self.meant.append(note)
        key = {"Idempotency-Key": f"{self.number} {note}"}
        for _ in range(self.chance.randint(1, 2)):
            answer = self.client.post(
                f"/api/jobs/{self.number}/notes", json={"text": note}, headers=key
            )
            assert answer.status_code == 201

    def send(self, form):
        times = self.chance.choice([1, 1, 2])
        answers = [self.client.post(self.action, data=form) for _ in range(times)]
        answer = answers[-1]
        # whoever is asked whether both are right says yes
        while answer.status_code == 409:
            asked = form_of(answer.text, self.action)
            answers = [
                self.client.post(self.action, data=asked) for _ in range(self.chance.randint(1, 2))
            ]
            answer = answers[-1]
        assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{self.number}")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    ticks = itertools.count()
    path = tmp_path_factory.mktemp("once") / "workshop.db"
    with Store(path, lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z") as store:
        opened = ForeseeableWorkshop(store, {"bench": FAMILY})
        with TestClient(
            create_app(opened), base_url="http://localhost", follow_redirects=False
        ) as client:
            yield opened, client


def play(shop, seed):
    """One sequence of taps on a job of its own; what was meant and what was written."""
    workshop, client = shop
    number, chance = workshop.jobs.open(INTAKE, "ada").number, random.Random(seed)
    person = Person(client, number, chance)
    for _ in range(chance.randint(2, 4)):
        getattr(person, chance.choice(["look", "write", "write", "again", "change", "program"]))()
    written = [
        body.text if isinstance(body, Note) else body.note for body in bodies(workshop, number)
    ]
    return person.meant, written


def test_two_hundred_random_sequences_write_each_thing_that_was_meant_once(shop):
    """Double taps, pages gone back to, tabs, lost answers."""
    for seed in range(200):
        meant, written = play(shop, seed)
        assert sorted(written) == sorted(meant), f"seed {seed}"
