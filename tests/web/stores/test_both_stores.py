"""A job from intake to its end through the pages, on a file and on a server: the same pages."""

import itertools
from concurrent.futures import ThreadPoolExecutor

import pytest
from tests.web.stores.playing import opened, play, shown

from counterpoise.workshop.store.store import Store


def ticking():
    ticks = itertools.count()
    return lambda: f"2026-03-01T09:{next(ticks) // 60 % 60:02}:00Z"


@pytest.fixture(scope="module")
def file_store(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("played") / "workshop.db", ticking()) as store:
        with opened(store) as client:
            play(client)
        yield store


@pytest.fixture(scope="module")
def server_store(server):
    with Store(server.database(), ticking()) as store:
        with opened(store) as client:
            play(client)
        yield store


def test_both_kinds_of_store_show_the_same_pages(file_store, server_store):
    with opened(file_store) as here, opened(server_store) as there:
        first, second = shown(here), shown(there)
    assert {path: status for path, (status, _) in first.items() if status != 200} == {}
    assert [path for path in first if first[path] != second[path]] == []


def test_two_tabs_at_once_are_told_apart_on_a_server(server_store):
    with opened(server_store) as client:
        before = client.get("/api/jobs/2").json()["last"]
        form = {"check": "new_place", "outcome": "no", "last": str(before)}
        with ThreadPoolExecutor(4) as pool:
            answers = list(
                pool.map(
                    lambda n: client.post("/jobs/2/findings", data=form | {"note": f"tab {n}"}),
                    range(4),
                )
            )
        assert sorted(answer.status_code for answer in answers) == [303, 409, 409, 409]
        assert client.get("/api/jobs/2").json()["last"] == before + 1


@pytest.mark.parametrize("kind", ["file_store", "server_store"])
def test_of_two_who_close_at_once_one_closes_and_the_other_is_told(kind, request):
    """Each by the page they saw, then each by a program that says nothing of what it saw."""
    with opened(request.getfixturevalue(kind)) as client, ThreadPoolExecutor(2) as pool:
        intake = {
            "family": "bench",
            "owner": "customer",
            "complaints": ["shakes"],
            "title": "Twice",
        }
        number = client.post("/api/jobs", json=intake).json()["job"]
        form = {"last": "1", "ending": "scrap"}
        people = [form | {"by": by, "_key": f"{kind} {by}"} for by in ("ines", "piet")]
        answers = list(
            pool.map(lambda sent: client.post(f"/jobs/{number}/close", data=sent), people)
        )
        assert sorted(answer.status_code for answer in answers) == [303, 409]
        (told,) = [answer.text for answer in answers if answer.status_code == 409]
        entries = client.get(f"/api/jobs/{number}/evidence").json()["entries"]
        assert [entry["kind"] for entry in entries] == ["Taken in", "Closed"]
        assert f"{entries[1]['by']}: Scrap" in told
        number = client.post("/api/jobs", json=intake).json()["job"]
        address = f"/api/jobs/{number}/close"
        answers = list(pool.map(lambda _: client.post(address, json={"ending": "scrap"}), range(2)))
        first, second = sorted(answer.status_code for answer in answers)
        assert first == 201
        assert second in {409, 422}
        assert client.get(f"/api/jobs/{number}").json()["last"] == 2


def test_the_same_sent_four_times_at_once_is_written_once_on_a_server(server_store):
    with opened(server_store) as client:
        before = client.get("/api/jobs/2").json()["last"]
        form = {"text": "sent once", "last": str(before), "_key": "q" * 32}
        with ThreadPoolExecutor(4) as pool:
            answers = list(pool.map(lambda _: client.post("/jobs/2/notes", data=form), range(4)))
        assert {answer.status_code for answer in answers} == {303}
        assert client.get("/api/jobs/2").json()["last"] == before + 1
