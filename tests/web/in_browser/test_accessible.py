"""Every page, as it stands at the end, held against axe's rules: names, contrast, landmarks, order."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.browser import DESK, PHONE, chromium, served
from tests.web.in_browser.test_browser import PAGES
from tests.web.workbench import DECIDED, INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Closed, Finding, Note, Retraction
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser

MORE = [
    "/jobs/3", "/jobs/3/sheet", "/jobs/3/decision", "/jobs?q=front", "/learning", "/families", "/guarantee",
    "/twin", "/jobs/1/machine", "/jobs/1/measure", "/jobs/1/measure/level", "/jobs/1/measure/runout",
    "/jobs/1/measure/play", "/jobs/1/measure/dampers", "/jobs/1/measure/windings", "/jobs/1/measure/safety",
]  # fmt: skip
EVERY = [*PAGES, *MORE]
# how it is looked at: the hand in the yard, the hand in the evening, the desk
WAYS = {"phone": (PHONE, "light"), "phone, dark": (PHONE, "dark"), "desk, dark": (DESK, "dark")}


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("axe") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
        for _ in range(3):
            workshop.jobs.open(INTAKE, "ada")
        workshop.jobs.record(1, Finding("drum_by_hand", "on_its_own", minutes=3))
        workshop.jobs.record(1, Finding("play", "none"))
        workshop.jobs.record(1, Note("wrong machine"))
        workshop.jobs.record(1, Retraction(4, "it was the right one"))
        workshop.jobs.record(2, DECIDED)
        workshop.jobs.record(3, Closed("scrap"))
        with served(create_app(workshop)) as here:
            yield here


@pytest.fixture(scope="module")
def pages():
    """One page of the browser for each way of looking."""
    with chromium() as browser:
        contexts = {
            name: browser.new_context(viewport=size, color_scheme=scheme)
            for name, (size, scheme) in WAYS.items()
        }
        yield {name: context.new_page() for name, context in contexts.items()}


def broken(page):
    """The rules that the page breaks, each with the element."""
    return [
        (rule["id"], each["html"][:120], each["failureSummary"])
        for rule in Axe().run(page).response["violations"]
        for each in rule["nodes"]
    ]


def test_axe_sees_what_is_wrong(pages):
    """Else a page that could not be looked at would pass."""
    page = pages["phone"]
    page.goto("about:blank")
    page.set_content("<img src=x><button></button><p style='color:#999;background:#fff'>pale</p>")
    assert {"image-alt", "button-name", "color-contrast"} <= {rule for rule, *_ in broken(page)}


@pytest.mark.parametrize("path", EVERY)
def test_a_page_breaks_no_rule(address, pages, path):
    # every page once in the hand, and once more in one of the other two ways, in turn
    for way in ("phone", ("phone, dark", "desk, dark")[EVERY.index(path) % 2]):
        page = pages[way]
        assert page.goto(address + path).status == (404 if path == "/jobs/77" else 200)
        page.wait_for_function("() => !document.querySelector('meta[http-equiv=refresh]')")
        assert broken(page) == [], way


def test_a_refused_form_breaks_no_rule(address, pages):
    page = pages["phone, dark"]
    page.goto(address + "/jobs/1/measure/level")
    page.locator("main form button").first.click()
    assert page.locator("[aria-invalid=true]").count() >= 1
    assert broken(page) == []
