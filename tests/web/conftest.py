import itertools

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.store.store import Store


@pytest.fixture
def store(tmp_path):
    ticks = itertools.count()
    with Store(
        tmp_path / "workshop.db", lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"
    ) as opened:
        yield opened


@pytest.fixture
def workshop(store):
    return ForeseeableWorkshop(store, {"bench": FAMILY})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(INTAKE, "ada").number


@pytest.fixture(scope="module")
def app():
    """One application for all tests of a file: its routes are built once, the workshop behind it is changed."""
    return create_app(None)


@pytest.fixture
def client(app, workshop):
    app.state.workshop = workshop
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened
