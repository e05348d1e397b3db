import itertools

import pytest
from tests.workshop.small import FAMILY

from counterpoise.workshop.desk import Desk
from counterpoise.workshop.store import Store


@pytest.fixture
def ticking():
    """A clock that moves on by a second each time it is read."""
    ticks = itertools.count()
    return lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"


@pytest.fixture
def store(tmp_path, ticking):
    with Store(tmp_path / "workshop.db", ticking) as opened:
        yield opened


@pytest.fixture
def desk(store):
    return Desk(store, {"small": FAMILY})
