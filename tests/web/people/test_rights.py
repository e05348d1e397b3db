"""Each role at each address, page and JSON alike: what it may, it may; what it may not, it is told who may."""

import json
import re
from pathlib import Path

import pytest
from tests.web.workbench import DECIDED, INTAKE

from counterpoise.web.app import _PAGES
from counterpoise.web.network.masking import masked_json, without_sums
from counterpoise.web.network.rights import needed
from counterpoise.workshop.jobs.entries import Closed, Finding
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.people.roles import RIGHTS, Right

DOCUMENT = (Path(__file__).parents[3] / "docs" / "people.md").read_text("utf-8")
# Written here by hand, and once more in the code: a new address has to be thought about.
MONEY = {
    "/jobs/{number}/estimate", "/jobs/{number}/quote", "/jobs/{number}/quote.pdf", "/jobs/{number}/decision",
    "/jobs/{number}/agreement", "/jobs/{number}/sheet", "/jobs/{number}/sheet.pdf", "/jobs/{number}/labels.pdf",
    "/jobs/{number}/parts", "/ledger", "/ledger.csv", "/ledger/year", "/guarantee", "/yard", "GET /settings",
    "/prices", "/prices.csv", "/prices/preview", "/prices/import", "/prices/retractions", "/stock/lots/{lot}/label.pdf",
}  # fmt: skip
CLOSE = {"/jobs/{number}/close"}
SETTINGS = {"POST /settings", "POST /learning"}
PEOPLE = {"POST /people", "POST /people/{number}"}
OPEN = {
    "/sign-in", "/sign-out", "/theme", "/language", "/health", "/root.crt", "/phone/in/{token}",
}  # fmt: skip
MAY = {
    "Ada": {"work", "money", "close", "settings", "people"},
    "Ben": {"work", "money"},
    "Cleo": {"work", "money", "close"},
}
VALUES = {
    "number": "77", "lot": "77", "part": "0", "capture": "c" * 32, "recording": "r" * 32, "photo": "p" * 32,
    "kind": "check", "step_id": "play", "family": "bench", "item": "damper_set", "session": "a" * 64, "token": "t",
}  # fmt: skip
ROUTES = sorted(
    (method, route.path)
    for room in _PAGES
    for router in (room.pages, room.api)
    for route in router.routes
    for method in route.methods - {"HEAD"}
)


def right_of(method, path):
    plain = path.removeprefix("/api")
    asked = {plain, f"{method} {plain}"}
    if asked & OPEN:
        return None
    tables = {"money": MONEY, "close": CLOSE, "settings": SETTINGS, "people": PEOPLE}
    return next((name for name, table in tables.items() if asked & table), "work")


def filled(path):
    return re.sub(r"\{(\w+)\}", lambda each: VALUES[each[1]], path)


def test_the_table_of_addresses_is_the_one_written_here():
    assert len(ROUTES) > 130
    known = {path.removeprefix("/api") for _, path in ROUTES}
    named = {each.rpartition(" ")[2] for each in MONEY | CLOSE | SETTINGS | PEOPLE | OPEN}
    assert named <= known
    for method, path in ROUTES:
        wanted = right_of(method, path)
        assert needed(method, filled(path)) == (wanted and Right(wanted)), (method, path)
    # an address that is not there, and one dressed up, ask for no less
    for path in (
        "/nowhere",
        "/api/openapi.json",
        "/ledger.csv/",
        "//sign-in",
        "/sign-in/x",
        "/style.css/../jobs",
    ):
        assert needed("GET", path) is not None
    assert needed("HEAD", "/ledger") == Right.MONEY


def test_each_role_gets_what_the_table_says_and_a_stranger_nothing(guest, as_somebody):
    for who in (None, *MAY):
        client = as_somebody(who) if who else guest
        for method, path in ROUTES:
            # signing out would leave nobody to go on with
            if path.removeprefix("/api") == "/sign-out":
                continue
            right = right_of(method, path)
            answer = client.request(method, filled(path), headers={"accept": "text/html"})
            turned_away = answer.status_code in {401, 403} or answer.headers.get(
                "location", ""
            ).startswith("/sign-in")
            # a sign-in with nothing in it is wrong, a code that is none lets nobody in
            if path.removeprefix("/api") in {"/sign-in", "/phone/in/{token}"}:
                continue
            assert turned_away == (right is not None and right not in MAY.get(who, set())), (
                who, method, path, answer.status_code,
            )  # fmt: skip
            if turned_away and who:
                assert answer.status_code == 403
                assert "Only owner" in answer.text
            elif turned_away and method != "GET":
                assert answer.status_code == 401


def test_the_rights_of_roles_are_those_written_here():
    assert {str(role): set(map(str, rights)) for role, rights in RIGHTS.items()} == {
        "owner": MAY["Ada"], "bench": MAY["Ben"], "counter": MAY["Cleo"],
    }  # fmt: skip


def test_the_document_shows_the_table():
    rows = re.findall(r"^\| (\w+): .* \| (.+) \| (.+) \| (.+) \|$", DOCUMENT, re.MULTILINE)
    assert [row[0] for row in rows] == [str(right) for right in Right]
    for right, *cells in rows:
        for role, cell in zip(("owner", "counter", "bench"), cells, strict=True):
            has = Right(right) in RIGHTS[next(each for each in RIGHTS if each == role)]
            assert (cell != "no") == has, (right, role)


@pytest.fixture
def poor(staff, as_somebody):
    """Ben at the bench, who is not to see money, in a workshop with every kind of job."""
    for _ in range(3):
        staff.jobs.open(INTAKE, "ada")
    staff.jobs.record(1, Finding("play", "none"))
    staff.jobs.record(2, DECIDED)
    staff.jobs.record(3, Closed("scrap", received_minor=1234))
    staff.stock.receive(Receipt("bench", "damper_set", "used", 2, "B2", 777, 4321), "ada")
    staff.change_settings({"bench_sees_money": False})
    return as_somebody("Ben")


SHOWN = [
    "/jobs", "/jobs/1", "/jobs/2", "/jobs/3", "/jobs/1/steps", "/jobs/1/steps/check/play", "/jobs/1/evidence",
    "/jobs/2/evidence", "/jobs/3/evidence", "/jobs/1/machine", "/jobs/1/measure", "/stock", "/stock/bench/damper_set",
    "/learning", "/people", "/families", "/jobs/1/recording", "/jobs/new", "/twin",
]  # fmt: skip


def test_where_the_bench_sees_no_money_no_page_of_its_own_shows_any(poor, as_somebody):
    for path in SHOWN:
        page = poor.get(path)
        assert page.status_code == 200, path
        # "A comparable new machine costs, EUR" asks for a sum and shows none
        assert not re.search(r"\d[ \u00a0]?EUR", page.text), path
        for gone in ("/ledger", "/yard", "/prices", "/guarantee", "/settings"):
            assert f'href="{gone}' not in page.text, (path, gone)
        twin = poor.get(f"/api{path}")
        if twin.status_code == 200:
            assert not re.search(r"\d[ \u00a0]?EUR", twin.text), path
            assert list(sums(twin.json())) == [], path
    for path in (
        "/ledger",
        "/jobs/2/quote",
        "/jobs/1/sheet.pdf",
        "/prices.csv",
        "/settings",
        "/api/yard",
    ):
        refused = poor.get(path)
        assert (refused.status_code, "Only owner and counter may see money" in refused.text) == (
            403,
            True,
        )
    # what the owner sees of the same pages, so that the test could fail
    owner = as_somebody("Ada")
    texts = [owner.get(path).text for path in SHOWN]
    assert sum(bool(re.search(r"\d[ \u00a0]?EUR", text)) for text in texts) >= 6
    assert list(sums(owner.get("/api/jobs/1").json()))


def sums(value, name=""):
    """Every sum in minor units in JSON."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from sums(each, key)
    elif isinstance(value, list):
        for each in value:
            yield from sums(each, name)
    elif name.endswith("_minor") and value is not None:
        yield name, value


def test_what_the_bench_writes_without_seeing_money_is_written(poor, staff):
    answer = poor.post("/jobs/1/notes", data={"text": "cost me 12 EUR"})
    assert answer.status_code == 303
    assert staff.jobs.get(1).entries[-1].body.text == "cost me 12 EUR"
    sent = poor.post("/api/jobs/1/findings", json={"check": "new_place", "outcome": "no"})
    assert sent.status_code == 201
    assert list(sums(sent.json())) == []


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("worth 12.50 EUR now", "worth – now"),
        ("47 to 86 EUR", "–"),
        ("47 bis 86 EUR, dann", "–, dann"),
        ("−1\u00a0200,00\u00a0EUR.", "–."),
        ("No. 12 is EUR-free, 3 EURO", "No. 12 is EUR-free, 3 EURO"),
        ("between 3 and 5 EUR", "between –"),
        ("takes 12 minutes", "takes 12 minutes"),
    ],
)
def test_amounts_in_sentences_are_a_dash(text, left):
    assert without_sums(text, "EUR") == left


def test_amounts_in_json_are_null():
    body = json.dumps(
        {"price_minor": 5, "minor": 3, "minutes": 4, "in": [{"cost_minor": [1, 2]}, "5 EUR"]}
    ).encode()
    assert json.loads(masked_json(body, "EUR")) == {
        "price_minor": None, "minor": None, "minutes": 4, "in": [{"cost_minor": [None, None]}, "–"],
    }  # fmt: skip


def test_a_store_that_cannot_be_read_lets_nobody_in(staff, guest, monkeypatch):
    from counterpoise.errors import StoreError

    def failing(*_):
        raise StoreError("gone")

    monkeypatch.setattr(staff.store.people, "any", failing)
    monkeypatch.setattr(staff.store.people, "session", failing)
    answer = guest.get("/api/jobs")
    assert (answer.status_code, answer.json()["what"]) == (503, "The store could not be read")
