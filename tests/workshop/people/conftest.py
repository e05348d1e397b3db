import pytest
from tests.workshop.people.quick import quick

from counterpoise.workshop.services.people import People


@pytest.fixture(params=["sqlite_store", "server_store"])
def store(request):
    """An empty store: each test that asks for one runs on both kinds."""
    return request.getfixturevalue(request.param)


@pytest.fixture
def people(store):
    return People(store, quick())
