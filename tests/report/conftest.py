import itertools

import pytest
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.workshop.store.store import Store


@pytest.fixture(scope="session")
def front_loader():
    return load_family("front_loader")


@pytest.fixture
def stocked(tmp_path):
    """A workshop whose family has parts and assemblies, with a clock that ticks."""
    ticks = itertools.count()
    with Store(
        tmp_path / "stocked.db", lambda: f"2026-03-01T09:00:{next(ticks) % 60:02}Z"
    ) as store:
        yield ForeseeableWorkshop(store, {"bench": STOCKED})


@pytest.fixture
def stocked_job(stocked):
    return stocked.jobs.open(INTAKE, "ada").number
