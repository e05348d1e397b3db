import itertools

import pytest
from tests.workshop.small import FAMILY

from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


@pytest.fixture
def ticking():
    """A clock that moves on by a second each time it is read."""
    ticks = itertools.count()
    return lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"


@pytest.fixture
def sqlite_store(tmp_path, ticking):
    with Store(tmp_path / "workshop.db", ticking) as opened:
        yield opened


@pytest.fixture
def server_store(server, ticking):
    address = server.borrowed()
    with Store(address, ticking) as opened:
        yield opened
    server.give_back(address)


@pytest.fixture
def store(request):
    """A store in a file; a folder whose tests run on both kinds says so in its own conftest."""
    return request.getfixturevalue("sqlite_store")


@pytest.fixture
def workshop(store):
    return Workshop(store, {"small": FAMILY})
