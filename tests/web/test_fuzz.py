"""Whatever is sent to the twins, they answer as they describe: never with an error of their own."""

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance
from tests.web.workbench import DECIDED, FAMILY, INTAKE, ForeseeableWorkshop
from tests.workshop.people.quick import quick

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Finding
from counterpoise.workshop.services.people import People
from counterpoise.workshop.store.store import Store

APP = create_app(None, allowed=lambda _: True)
SCHEMA = schemathesis.openapi.from_asgi("/api/openapi.json", APP)
OPERATIONS = [
    (operation.ok().method, operation.ok().path) for operation in SCHEMA.get_all_operations()
]


# On a server what differs is what the database itself refuses of what is written; fewer are enough to meet it.
EXAMPLES = {"sqlite": 40, "postgresql": 8}
TRIED = [("file", *operation) for operation in OPERATIONS]
TRIED += [("server", *operation) for operation in OPERATIONS if operation[0] == "post"]
# whoever is signed in goes through who they are and what they may first, whatever the kind of store
TRIED += [
    ("people", *operation)
    for operation in OPERATIONS
    if operation[1] not in {"/health", "/api/sign-out"}
]
PIN = "271828"


@pytest.fixture(scope="module")
def workshop(request, tmp_path_factory):
    where = tmp_path_factory.mktemp("fuzz") / "workshop.db"
    if request.param == "server":
        where = request.getfixturevalue("server").database()
    with Store(where) as store:
        APP.state.workshop = ForeseeableWorkshop(store, {"bench": FAMILY})
        APP.state.workshop.people = People(store, quick())
        for _ in range(3):
            number = APP.state.workshop.jobs.open(INTAKE).number
            APP.state.workshop.jobs.record(number, Finding("new_place", "no"))
            APP.state.workshop.jobs.record(number, DECIDED)
        APP.state.cookie = {}
        if request.param == "people":
            # at the bench and not to see money: what is taken out of an answer must not break it
            APP.state.workshop.people.add("Ada", "owner", PIN)
            ben = APP.state.workshop.people.add("Ben", "bench", PIN)
            APP.state.cookie = {"session": APP.state.workshop.people.sign_in(ben, "schemathesis")}
        yield APP.state.workshop


@pytest.mark.parametrize(("workshop", "method", "path"), TRIED, indirect=["workshop"])
def test_the_twins_answer_as_described(workshop, method, path):
    @given(case=SCHEMA[path][method].as_strategy())
    @settings(
        max_examples=3
        if APP.state.cookie
        else EXAMPLES[workshop.store.database.engine.dialect.name],
        derandomize=True,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    def answered(case):
        # the ids of checks, repairs and faults are the catalog's, not the description's: unknown ones are refused
        excluded = [positive_data_acceptance]
        if not APP.state.cookie:
            case.call_and_validate(timeout=300, excluded_checks=excluded)
            return
        # signed in, and not: never an error of its own, and nothing without a session but the way in
        signed = case.call(cookies=APP.state.cookie, timeout=300)
        assert signed.status_code < 500, signed.text
        stranger = case.call(timeout=300)
        assert stranger.status_code in {400, 401, 403, 413} or path.startswith("/api/sign-"), (
            stranger.text
        )

    answered()


def test_every_twin_is_tried():
    assert len(OPERATIONS) > 18
    assert len(TRIED) > len(OPERATIONS) + 8
