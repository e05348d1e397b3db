import shutil
from pathlib import Path

import pytest

from counterpoise.catalog import loader, parsed_cache
from counterpoise.catalog.places import DATA


@pytest.fixture(autouse=True)
def kept_elsewhere(tmp_path_factory, monkeypatch):
    # what these tests parse is of no use to anybody else
    real, place = parsed_cache.DATA, parsed_cache._place
    scratch = tmp_path_factory.mktemp("kept")

    def elsewhere(files):
        kept = place(files)
        return kept if files[0].parent == real and len(files) == 1 else scratch / kept.name

    monkeypatch.setattr(parsed_cache, "_place", elsewhere)


@pytest.fixture
def small(monkeypatch, tmp_path):
    """As if the skeleton were all that is shipped: parsed in a moment, and sound."""
    shipped = tmp_path / "shipped"
    shipped.mkdir()
    path = Path(shutil.copy(DATA / "skeleton" / "family.yaml", shipped / "my_machine.yaml"))
    other = shipped / "other.yaml"
    other.write_text(path.read_text().replace("family: my_machine", "family: other", 1))
    monkeypatch.setattr(loader, "_shipped", lambda: {"my_machine": path, "other": other})
