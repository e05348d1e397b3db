"""Two phones on one job, and one whose line is gone: nothing typed is lost, overwritten, or sent twice."""

import itertools
import time

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect
from tests.web.browser import PHONE, chromium, phone_browser, served
from tests.web.in_browser.test_browser import SMALL, TOO_WIDE
from tests.web.workbench import INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Closed, Finding, Note
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser
READY = "html[data-together=yes]"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("together") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
        with served(create_app(workshop)) as address:
            yield workshop, address


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture
def number(place):
    return place[0].jobs.open(INTAKE, "ada").number


@pytest.fixture
def phones(browser, place):
    """Phones of different hands, each a browser of its own."""
    contexts = []

    def phone(name):
        context = browser.new_context(viewport=PHONE, has_touch=True)
        context.add_cookies([{"name": "hand", "value": name, "url": place[1]}])
        contexts.append(context)
        page = context.new_page()
        page.trouble = []
        page.on("console", lambda said: "Security" in said.text and page.trouble.append(said.text))
        page.on("pageerror", lambda error: page.trouble.append(str(error)))
        return page

    yield phone
    assert [page.trouble for context in contexts for page in context.pages if page.trouble] == []
    for context in contexts:
        context.close()


def opened(page, address):
    page.goto(address)
    page.wait_for_selector(READY)


def bodies(workshop, number):
    return [entry.body for entry in workshop.jobs.get(number).entries[1:]]


def until(page, workshop, number, count):
    """The entries of a job, once there are so many of them; and a moment later there are no more."""
    for _ in range(150):
        if len(bodies(workshop, number)) >= count:
            break
        page.wait_for_timeout(100)
    page.wait_for_timeout(300)
    assert len(bodies(workshop, number)) == count
    return bodies(workshop, number)


def clean(page):
    page.evaluate(
        "() => document.querySelectorAll('header details').forEach(one => { one.open = true })"
    )
    assert page.evaluate(SMALL) == []
    assert page.evaluate(TOO_WIDE) <= 0
    assert [rule["id"] for rule in Axe().run(page).response["violations"]] == []


def test_two_phones_see_each_other_within_two_seconds_and_nothing_typed_goes(phones, place, number):
    workshop, address = place
    ines, piet = phones("Ines"), phones("Piet")
    piet.clock.install()
    opened(ines, f"{address}/jobs/{number}")
    opened(piet, f"{address}/jobs/{number}")
    expect(ines.locator("#together")).to_contain_text("Also here: Piet", timeout=2000)
    piet.get_by_text("Add remark").click()
    piet.get_by_label("Remark").fill("it smells of")
    # Ines presses the answer; by script, and the page after it comes as ever
    with ines.expect_navigation():
        ines.get_by_role("button", name="Yes, it was moved").click()
    begun = time.monotonic()
    news = piet.locator("#together .news")
    expect(news).to_contain_text(
        "Ines put down: Ask whether it was moved: Yes, it was moved", timeout=2000
    )
    assert time.monotonic() - begun < 2.0
    clean(piet)
    piet.clock.fast_forward(60_000)
    piet.wait_for_timeout(1500)
    assert piet.get_by_label("Remark").input_value() == "it smells of"
    with piet.expect_navigation():
        piet.get_by_role("button", name="Could not tell").click()
    # written in between: both are shown, and he decides
    assert "Yes, it was moved" in piet.inner_text("main")
    assert "it smells of" in piet.inner_text("main")
    with piet.expect_navigation():
        piet.get_by_role("button", name="Save mine too").click()
    assert [body.outcome for body in until(ines, workshop, number, 2)] == ["yes", "could_not_tell"]
    # a page at rest comes anew by itself, and says what came
    workshop.jobs.record(number, Note("the belt is new"), "cleo")
    expect(piet.locator("#fresh")).to_be_visible(timeout=3000)
    with piet.expect_navigation():
        piet.clock.fast_forward(60_000)
    expect(piet.locator("#together")).to_contain_text("cleo put down: the belt is new")


def test_what_is_put_down_without_a_line_is_sent_once_in_its_order(phones, place, number):
    workshop, address = place
    page = phones("Ines")
    opened(page, f"{address}/jobs/{number}")
    page.context.set_offline(True)
    expect(page.locator("#line")).to_contain_text("No line to the workshop", timeout=8000)
    for answer, remark in (("No", "told twice"), ("Yes, it was moved", "told so by her son")):
        page.get_by_text("Add remark").click()
        page.get_by_label("Remark").fill(remark)
        page.get_by_role("button", name=answer, exact=True).click()
        expect(page.locator("#line")).to_contain_text(f"{answer}; {remark}")
        page.get_by_text("Add remark").click()
    expect(page.locator("#count")).to_have_text("2 things wait on this phone")
    page.locator("#waits summary").click()
    expect(page.locator("#waits li").first).to_contain_text("No; told twice")
    clean(page)
    # what hangs on the state of the job is not kept, and stands as it is
    assert bodies(workshop, number) == []
    # the first two answers are lost on their way: what was written is sent again under its key
    lost = itertools.count()

    def lose(route):
        answer = route.fetch()
        route.abort() if next(lost) < 2 else route.fulfill(response=answer)

    page.route("**/jobs/*/findings", lose)
    page.context.set_offline(False)
    notes = [body.note for body in until(page, workshop, number, 2)]
    assert notes == ["told twice", "told so by her son"]
    assert next(lost) > 3
    expect(page.locator("#waits")).to_be_hidden(timeout=8000)


def test_what_the_job_no_longer_takes_is_shown_and_the_person_decides(phones, place, number):
    workshop, address = place
    page = phones("Ines")
    opened(page, f"{address}/jobs/{number}/evidence")
    page.context.set_offline(True)
    for text in ("seen by me", "and this too"):
        page.get_by_label("Note").fill(text)
        page.get_by_role("button", name="Add", exact=True).click()
        expect(page.locator("#line")).to_contain_text(text)
    workshop.jobs.record(number, Closed("scrap"), "piet")
    page.context.set_offline(False)
    expect(page.locator("#count")).to_contain_text("It asks you to decide", timeout=10_000)
    page.locator("#waits summary").click()
    first, second = page.locator("#waits li").all()
    expect(first).to_contain_text("seen by me")
    expect(first).to_contain_text("Somebody else wrote to job")
    expect(second).to_contain_text("and this too")
    clean(page)
    with page.expect_navigation():
        first.get_by_role("button", name="Look and decide").click()
    assert "piet: Scrap" in page.inner_text("main")
    with page.expect_navigation():
        page.get_by_role("button", name="Save mine too").click()
    page.wait_for_selector(READY)
    assert [body.text for body in until(page, workshop, number, 3)[1:]] == [
        "seen by me",
        "and this too",
    ]
    expect(page.locator("#waits")).to_be_hidden()


def test_what_a_phone_kept_is_there_after_the_browser_was_closed(browser, tmp_path):
    with Store(tmp_path / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
        app = create_app(workshop)
        number, other = (workshop.jobs.open(INTAKE, "ada").number for _ in range(2))
        with served(app) as address, phone_browser(browser, tmp_path / "phone") as phone:
            page = phone.pages[0]
            opened(page, f"{address}/jobs/{number}")
            page.wait_for_function("() => navigator.serviceWorker.controller")
            opened(page, f"{address}/jobs/{number}/evidence")
            page.wait_for_function(
                "async () => (await (await caches.open('pages')).keys()).length === 2"
            )
        # the workshop's computer is off, the browser opened again
        with phone_browser(browser, tmp_path / "phone") as phone:
            page = phone.pages[0]
            opened(page, f"{address}/jobs/{number}")
            expect(page.locator("#line")).to_contain_text("this page is as it was at", timeout=8000)
            page.get_by_role("button", name="Could not tell").click()
            expect(page.locator("#line")).to_contain_text("Kept on this phone")
            opened(page, f"{address}/jobs/{number}/evidence")
            page.get_by_label("Note").fill("rust at the foot")
            page.get_by_role("button", name="Add", exact=True).click()
            expect(page.locator("#count")).to_have_text("2 things wait on this phone")
        with phone_browser(browser, tmp_path / "phone") as phone:
            page = phone.pages[0]
            # a page that nobody had open cannot be had: it is said what is kept instead
            opened(page, f"{address}/jobs/{other}")
            expect(page.locator("h1")).to_have_text("Kept on this phone")
            expect(page.locator("#count")).to_have_text("2 things wait on this phone")
            expect(page.locator("#pages li")).to_have_count(2)
            clean(page)
        assert bodies(workshop, number) == []
        with (
            served(app, port=int(address.rpartition(":")[2])),
            phone_browser(browser, tmp_path / "phone") as phone,
        ):
            page = phone.pages[0]
            opened(page, f"{address}/jobs")
            found, note = until(page, workshop, number, 2)
            assert (found, note) == (
                Finding("new_place", "could_not_tell"),
                Note("rust at the foot"),
            )
            expect(page.locator("#waits")).to_be_hidden()
            # another job is opened: the pages of the former are gone
            opened(page, f"{address}/jobs/{other}")
            page.wait_for_function(
                f"async () => (await (await caches.open('pages')).keys()).every(one => one.url.endsWith('/jobs/{other}'))"
            )
            # whoever is asked to sign in finds nothing of those before
            page.goto(f"{address}/sign-in")
            page.wait_for_function("async () => !(await caches.has('pages'))")
            opened(page, f"{address}/jobs/{other}")
            page.wait_for_function("() => caches.has('pages')")
            opened(page, f"{address}/kept")
            page.get_by_role("button", name="Take the pages").click()
            expect(page.locator("#nopages")).to_be_visible()
            assert page.evaluate("() => caches.has('pages')") is False
