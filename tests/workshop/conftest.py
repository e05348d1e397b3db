import itertools
import os

import pytest
from sqlalchemy import create_engine
from tests.workshop.small import FAMILY

from counterpoise.workshop.services.workshop import Workshop
from counterpoise.workshop.store.store import Store


@pytest.fixture
def ticking():
    """A clock that moves on by a second each time it is read."""
    ticks = itertools.count()
    return lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"


# Where this names an empty PostgreSQL database, the tests of the store run on it as well; all in it is dropped.
_OTHER = os.environ.get("COUNTERPOISE_TEST_DATABASE", "")


def _emptied(url):
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    engine.dispose()
    return url


@pytest.fixture
def sqlite_store(tmp_path, ticking):
    with Store(tmp_path / "workshop.db", ticking) as opened:
        yield opened


@pytest.fixture(params=["sqlite", "postgresql"] if _OTHER else ["sqlite"])
def store(request, tmp_path, ticking):
    if request.param == "sqlite":
        yield request.getfixturevalue("sqlite_store")
        return
    with Store(_emptied(_OTHER), ticking) as opened:
        yield opened


@pytest.fixture
def workshop(store):
    return Workshop(store, {"small": FAMILY})
