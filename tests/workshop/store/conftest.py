import pytest


@pytest.fixture(params=["sqlite_store", "server_store"])
def store(request):
    """An empty store: each test that asks for one runs on both kinds."""
    return request.getfixturevalue(request.param)
