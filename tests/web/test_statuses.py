"""Which status says what, over every route: read off the description that programs get."""

import pytest

from counterpoise.web.app import _PAGES, create_app

PATHS = create_app(None).openapi()["paths"]
# routes that ask for nothing but the job
READS = sorted(
    path for path, methods in PATHS.items() if "get" in methods and path.count("{") == 1
    and "{number}" in path
)  # fmt: skip
PAGES = sorted(
    route.path for room in _PAGES for route in room.pages.routes
    if "GET" in route.methods and route.path.count("{") == 1 and "/jobs/{number}" in route.path
)  # fmt: skip
SENT = {
    "findings": {"check": "new_place", "outcome": "no"},
    "repairs": {"repair": "replace_dampers", "minutes": 30},
    "proofs": {"passed": True, "minutes": 12},
    "decision": {"option": "scrap"},
    "close": {"ending": "scrap"},
    "notes": {"text": "the foot is bent"},
    "agreement": {"used_parts": True},
}


def at(path, number):
    return path.replace("{number}", str(number))


def test_there_are_routes_to_ask():
    assert len(READS) > 10
    assert len(PAGES) > 15


@pytest.mark.parametrize("path", READS)
def test_an_unknown_job_is_404_as_json(client, path):
    answer = client.get(at(path, 99))
    assert answer.status_code == 404
    assert set(answer.json()) == {"what", "field", "remedy"}
    assert "99" in answer.json()["what"]


@pytest.mark.parametrize("path", PAGES)
def test_an_unknown_job_is_a_plain_page(client, path):
    answer = client.get(at(path, 99))
    assert answer.status_code in {404, 422}
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("number", [0, -1, 2**31, "x", "1.5"])
@pytest.mark.parametrize("path", ["/api/jobs/{number}", "/api/jobs/{number}/evidence"])
def test_a_number_that_no_job_can_have_names_the_field(client, path, number):
    answer = client.get(at(path, number))
    assert answer.status_code == 422
    assert answer.json()["field"] == "number"


@pytest.mark.parametrize("kind", SENT)
def test_what_is_sent_is_201_with_the_number_of_its_entry(client, workshop, number, kind):
    answer = client.post(f"/api/jobs/{number}/{kind}", json=SENT[kind] | {"expected_last": 1})
    assert answer.status_code == 201
    assert answer.json()["entry"] == workshop.jobs.get(number).entries[-1].number == 2


@pytest.mark.parametrize("kind", SENT)
def test_a_stale_sender_is_409_and_nothing_is_written(client, workshop, number, kind):
    answer = client.post(f"/api/jobs/{number}/{kind}", json=SENT[kind] | {"expected_last": 7})
    assert answer.status_code == 409
    assert answer.json()["field"] == "last"
    assert answer.json()["remedy"]
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize("kind", SENT)
def test_an_unknown_job_takes_nothing(client, workshop, kind):
    assert client.post(f"/api/jobs/99/{kind}", json=SENT[kind]).status_code == 404
    assert workshop.jobs.lines() == []


@pytest.mark.parametrize("kind", SENT)
def test_a_misspelt_field_is_a_mistake_and_not_left_out(client, workshop, number, kind):
    answer = client.post(f"/api/jobs/{number}/{kind}", json=SENT[kind] | {"mintues": 3})
    assert (answer.status_code, answer.json()["field"]) == (422, "mintues")
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize("body", [[], "text", 7, None, {"check": {"a": 1}, "outcome": []}])
def test_json_of_another_shape_is_422(client, workshop, number, body):
    answer = client.post(f"/api/jobs/{number}/findings", json=body)
    assert answer.status_code == 422
    assert answer.json()["what"]
    assert len(workshop.jobs.get(number).entries) == 1


@pytest.mark.parametrize("path", ["/api/jobs/new", "/jobs/new", "/api/guarantee", "/guarantee"])
def test_an_unknown_family_is_422(client, path):
    assert client.get(path, params={"family": "mangle"}).status_code == 422


@pytest.mark.parametrize("path", ["", "/steps/check/no_such", "/measure/no_such"])
def test_what_a_job_does_not_have_is_told_without_a_trace(client, number, path):
    answer = client.get(f"/api/jobs/{number}{path}")
    assert answer.status_code in ({200} if not path else {404, 422})
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("method", ["DELETE", "PATCH"])
@pytest.mark.parametrize("path", ["/jobs/1", "/api/jobs/1", "/api/jobs/1/evidence"])
def test_nothing_can_be_removed_or_changed(client, number, method, path):
    answer = client.request(method, path)
    assert answer.status_code == 405
    assert "does not take that" in answer.text


def test_every_route_says_which_problems_it_can_answer():
    for path, methods in PATHS.items():
        for method, operation in methods.items():
            assert {"404", "409", "422"} <= set(operation["responses"]), (method, path)
            assert operation["description"][0].isupper(), (method, path)
            assert operation["description"].rstrip().endswith((".", "``")), (method, path)


@pytest.mark.parametrize(("path", "json"), [("/nowhere", False), ("/api/nowhere", True)])
def test_the_path_settles_whether_a_problem_is_a_page(client, path, json):
    for accept in ("text/html", "application/json", "*/*"):
        answer = client.get(path, headers={"accept": accept})
        assert answer.status_code == 404
        assert answer.headers["content-type"].startswith("application/json") is json


def test_a_slash_too_many_is_404_and_no_redirect(client, number):
    # a redirect would turn a form into a question and lose it
    assert client.get(f"/jobs/{number}/").status_code == 404
    assert client.post(f"/jobs/{number}/notes/", data={"text": "x"}).status_code == 404
