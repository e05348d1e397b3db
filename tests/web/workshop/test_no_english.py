"""No English is left on a German page: each letter of the catalogs is written wide, and what stands plain was never put."""

import time

import pytest
from tests.web.marked import english, marked_tongue, wide
from tests.web.workbench import ForeseeableWorkshop

from counterpoise.catalog.loader import families, load_family
from counterpoise.report.languages import tongue
from counterpoise.report.views.measures.forms import FORMS
from counterpoise.workshop.jobs.entries import Finding, Intake

# names of things, of data and of the other languages: the same everywhere
NAMES = frozenset(
    {"Wang", "Huisman", "Stevels", "Balde", "Waste", "Management"}
    | {"Counterpoise", "Deutsch", "English", "utf", "cp", "latin", "mac", "roman", "drain_pump"}
)
PAGES = (
    "/jobs/new?family=front_loader", "/settings", "/nowhere", "/jobs/99",
    "/jobs/1/evidence",
)  # fmt: skip


@pytest.fixture(scope="module")
def marked():
    return marked_tongue()


@pytest.fixture
def german(client, store, monkeypatch, marked):
    """The client of a workshop with all families, and one job whose typed texts are Greek."""
    real = tongue.tongue
    monkeypatch.setattr(tongue, "tongue", lambda code: marked if code == "de" else real(code))
    store.settings.change({"workshop_name": "Πάγκος"})
    client.app.state.workshop = workshop = ForeseeableWorkshop(
        store, {key: load_family(key) for key in families()}
    )
    intake = Intake("front_loader", "customer", "Βέλτρο", ("shakes",), 6.0, contact="Ξένος")
    workshop.jobs.open(intake, "ωμέγα")
    workshop.jobs.record(1, Finding("look_springs", "broken"), "ωμέγα")
    client.headers["cookie"] = "language=de"
    yield client
    del client.headers["cookie"]


def whole(client, path):
    """The page itself: on a loaded machine one that says how far it is may come first."""
    while (answer := client.get(path)).status_code == 202:
        time.sleep(0.1)
    return answer.text


def test_what_no_catalog_put_is_found_and_what_it_put_is_not():
    page = f"""<title>{wide("Hallo")}</title><p title="Save">{wide("Gut")} <b>Three words here</b> 5 kg</p>
      <script>var plain;</script><i lang="en">English</i><svg><text>{wide("Vorn")}</text><text>rear</text></svg>"""
    assert english(page) == ["Save", "Three words here", "rear"]
    assert wide("Auf <b>%(name)s</b> &amp; {x}") == "Ａｕｆ <b>%(name)s</b> &amp; {x}"


def test_no_english_is_left_on_pages_and_measurements(german):
    paths = (*PAGES, *(f"/jobs/1/measure/{kind}" for kind in FORMS))
    left = {path: english(whole(german, path), NAMES) for path in paths}
    assert {path: texts for path, texts in left.items() if texts} == {}
