"""The bench in one hand, in a real browser: answers in sight, five places, a press that is said, light and dark."""

import pytest
from tests.web.browser import DESK, PHONE, chromium, served
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Finding
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser
PAPER = "() => getComputedStyle(document.querySelector('.ticket')).backgroundColor"
LIGHT, DARK = "rgb(253, 252, 247)", "rgb(27, 30, 32)"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("bench") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
        workshop.jobs.open(INTAKE, "ada")
        workshop.jobs.record(1, Finding("new_place", "yes"))
        with served(create_app(workshop)) as address, chromium() as browser:
            yield browser, address


@pytest.fixture
def opened(place):
    browser, address = place
    contexts = []

    def page(path, **how):
        contexts.append(browser.new_context(**({"viewport": PHONE} | how)))
        shown = contexts[-1].new_page()
        shown.goto(address + path)
        return shown

    yield page
    for context in contexts:
        context.close()


def test_every_answer_is_on_the_first_screen_and_undo_beside_what_was_saved(opened):
    page = opened("/jobs/1")
    bar = page.locator("nav.bar").bounding_box()
    for answer in page.locator("#now .choice").all():
        box = answer.bounding_box()
        assert box["y"] + box["height"] <= bar["y"]
    undo = page.get_by_role("button", name="Undo").bounding_box()
    assert undo["y"] < page.locator("h2.do").bounding_box()["y"]


@pytest.mark.parametrize("path", ["/jobs", "/jobs/1"])
def test_the_bar_has_five_places_and_more_opens_without_a_script(opened, path):
    page = opened(path, java_script_enabled=False)
    assert page.locator("nav.bar > *").count() == 5
    ledger = page.get_by_role("link", name="Ledger")
    assert not ledger.is_visible()
    page.locator("nav.bar summary").click()
    assert ledger.is_visible()


def test_a_pressed_button_says_that_it_works_and_takes_no_second_press(opened):
    page = opened("/jobs/1")
    # until then a form is sent as without a script, and the browser waits for the page after it
    page.locator("html[data-together=yes]").wait_for()
    # a workshop that takes its time to answer
    held = []

    def hold(route):
        held.append(route)

    page.route("**/findings", hold)
    button = page.locator("#now .choice").first
    button.click()
    page.get_by_role("button", name="Saving…").wait_for(timeout=10_000)
    assert all(each.is_disabled() for each in page.locator("form.answer button").all())
    assert len(held) == 1
    held[0].abort()


def test_light_and_dark_follow_the_device_until_the_switch_says_otherwise(opened):
    page = opened("/jobs/1", java_script_enabled=True, color_scheme="dark")
    assert page.evaluate(PAPER) == DARK
    page.locator("nav.bar summary").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Light", exact=True).click()
    assert page.evaluate(PAPER) == LIGHT
    assert page.url.endswith("/jobs/1")


def test_at_the_desk_what_speaks_for_the_step_stands_beside_it(opened):
    page = opened("/jobs/1", viewport=DESK)
    step, why = (page.locator(part).bounding_box() for part in ("#now", "#why"))
    assert why["x"] >= step["x"] + step["width"]
    assert abs(why["y"] - step["y"]) < 10
