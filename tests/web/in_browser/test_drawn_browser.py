"""Drawn machines in a real browser: letters a phone shows, a tap that ticks, without scripts, by day and by night."""

import pytest
from tests.web.browser import PHONE, chromium, served
from tests.web.workbench import ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Finding, Intake
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser

# the height in px of each letter that is in sight, of drawings on the page
LETTERS = """() => [...document.querySelectorAll('svg.drawing text, svg.drawing label')]
  .filter(one => one.checkVisibility())
  .map(one => parseFloat(getComputedStyle(one).fontSize) * (one.ownerSVGElement || one.closest('svg')).getScreenCTM().a)"""
INK = """() => { const one = getComputedStyle(document.querySelector('svg.drawing')).color; return one }"""


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("drawn") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"spin_dryer": load_family("spin_dryer")})
        workshop.jobs.open(
            Intake("spin_dryer", "customer", "Veltro 2", ("shakes",), 6.0, {}), "ada"
        )
        workshop.jobs.record(1, Finding("look_hang", "middle"))
        with served(create_app(workshop)) as at:
            yield at


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


def opened(browser, **more):
    return browser.new_context(
        viewport=PHONE, has_touch=True, java_script_enabled=True, **more
    ).new_page()


@pytest.mark.parametrize(
    "path",
    ["/jobs/1/steps/check/look_mounts", "/jobs/1/evidence", "/jobs/1/measure/runout", "/jobs/new"],
)
def test_letters_of_drawings_are_twelve_pixels_or_more_on_a_phone(browser, address, path):
    page = opened(browser)
    page.goto(address + path)
    page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true })")
    sizes = page.evaluate(LETTERS)
    assert len(sizes) >= 1
    assert min(sizes) >= 12
    assert (
        page.evaluate(
            "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        <= 0
    )
    page.context.close()


def test_beside_the_step_the_machine_is_small_until_it_is_tapped(browser, address):
    page = opened(browser)
    page.goto(address + "/jobs/1/steps/check/look_mounts")
    machine = page.locator(".glance .machine")
    small = machine.bounding_box()
    assert small["width"] < 130
    # what is cut off is hidden, and the hand is shown at its place
    assert page.locator(".glance .near").is_visible()
    assert not page.locator(".glance .tied").is_visible()
    page.locator(".glance summary").tap()
    assert machine.bounding_box()["width"] > 290
    assert page.locator(".glance .tied").is_visible()
    assert not page.locator(".glance .near").is_visible()
    page.context.close()


def test_a_tap_on_the_machine_ticks_what_was_said_without_scripts(browser, address):
    page = browser.new_context(viewport=PHONE, has_touch=True, java_script_enabled=False).new_page()
    page.goto(address + "/jobs/new?family=spin_dryer")
    box = page.locator("#said-knocks")
    assert not box.is_checked()
    label = page.locator(".tap[for=said-knocks]")
    assert label.bounding_box()["height"] >= 48
    plain = label.evaluate("one => getComputedStyle(one).backgroundColor")
    label.tap()
    assert box.is_checked()
    assert label.evaluate("one => getComputedStyle(one).backgroundColor") != plain
    page.context.close()


def test_at_night_the_lines_are_light(browser, address):
    inks = []
    for scheme in ("light", "dark"):
        page = opened(browser, color_scheme=scheme)
        page.goto(address + "/jobs/1/steps/check/look_mounts")
        inks.append(page.evaluate(INK))
        page.context.close()
    day, night = (
        sum(int(v) for v in ink.removeprefix("rgb(").removesuffix(")").split(",")) for ink in inks
    )
    assert day < 200
    assert night > 550
