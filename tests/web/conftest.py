import itertools

import pytest
from fastapi.testclient import TestClient
from tests.web.workbench import FAMILY, INTAKE, ForeseeableDesk

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
def desk(store):
    return ForeseeableDesk(store, {"bench": FAMILY})


@pytest.fixture
def number(desk):
    return desk.open_job(INTAKE, "ada").number


@pytest.fixture(scope="module")
def app():
    """One application for all tests of a file: its routes are built once, the desk behind it is changed."""
    return create_app(None)


@pytest.fixture
def client(app, desk):
    app.state.desk = desk
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as opened:
        yield opened
