import pytest
from tests.servers import Server


@pytest.fixture(scope="session")
def server():
    """The PostgreSQL server of this run; nothing is started where no test asks for it."""
    started = Server()
    yield started
    started.stop()
