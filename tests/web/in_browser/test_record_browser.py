"""Recording a spin in headless Chromium with an emulated sensor: permission, capture, lost line, upload, result."""

import gzip
import json

import pytest
from playwright.sync_api import expect
from tests.web.browser import PHONE, chromium, served
from tests.web.job.test_recording import WITH_SPIN
from tests.web.phone import PIECE_ROWS, coarse_spin
from tests.web.workbench import INTAKE, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser

# A reading as a phone's browser gives it; its own time stamp, so that a spin of 98 s need not take 98 s.
FEEL = """(rows) => { for (const [t, x, y, z] of rows) {
  const one = new DeviceMotionEvent('devicemotion', {accelerationIncludingGravity: {x, y, z}, interval: 16});
  Object.defineProperty(one, 'timeStamp', {value: 5000 + t});
  dispatchEvent(one);
} }"""
ASKS = "DeviceMotionEvent.requestPermission = async () => '{answer}';"


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("record") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": WITH_SPIN})
        with served(create_app(workshop)) as address:
            yield workshop, address


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def rows():
    t_ms, acc = coarse_spin("transit_bolts")
    return [[float(t), *map(float, one)] for t, one in zip(t_ms, acc, strict=True)]


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport=PHONE, has_touch=True)
    opened = context.new_page()
    opened.trouble = []
    opened.on(
        "console",
        lambda said: opened.trouble.append(said.text) if "Content Security" in said.text else None,
    )
    opened.on("pageerror", lambda error: opened.trouble.append(str(error)))
    yield opened
    assert opened.trouble == []
    context.close()


@pytest.fixture
def number(place):
    return place[0].jobs.open(INTAKE, "ada").number


def opened(page, place, number):
    page.goto(f"{place[1]}/jobs/{number}/record")
    page.wait_for_selector("html[data-ready=yes]")


def begun(page, rows):
    """Press the button; the sensor runs through the count; then the recording starts."""
    page.get_by_role("button", name="Record with this phone").click()
    expect(page.locator("#state")).to_contain_text("Recording starts in")
    page.evaluate(FEEL, rows[:30])
    expect(page.locator("#state")).to_contain_text("Now start the spin", timeout=20_000)


def waiting(page, words):
    expect(page.locator("#sending")).to_contain_text(words, timeout=20_000)


def come(page, workshop, number, pieces):
    """Until so many pieces are in the workshop and the phone knows it."""
    for _ in range(200):
        if list(workshop.uploads.unfinished(number).values()) == [pieces]:
            return waiting(page, "All sent so far")
        page.wait_for_timeout(100)
    raise AssertionError(workshop.uploads.unfinished(number))


def test_a_whole_spin_from_the_tap_to_the_finding(page, place, number, rows):
    workshop, _ = place
    page.add_init_script(ASKS.format(answer="granted"))
    opened(page, place, number)
    page.get_by_label("Spin speed").fill("1100")
    begun(page, rows)
    page.evaluate(FEEL, rows[:230])
    expect(page.locator("#still")).to_have_text("3")
    expect(page.locator("#sensor")).to_contain_text("60 readings a second, rounded to 0.1")
    expect(page.locator("#sensor")).to_contain_text("up to 1600 rpm")
    page.evaluate(FEEL, rows[230:4000])
    expect(page.locator("#state")).to_contain_text("Hands off")
    waiting(page, "All sent so far")
    drawn = page.evaluate("() => document.getElementById('trace').toDataURL().length")
    assert drawn > 2000
    page.evaluate(FEEL, rows[4000:])
    with page.expect_navigation(timeout=30_000):
        page.get_by_role("button", name="Stop").click()
    expect(page.locator("main")).to_contain_text("a programme of 1100 rpm")
    told = json.loads(page.request.get(page.url.replace("/jobs/", "/api/jobs/")).text())
    assert told["groups"][0]["group"] == "transit_bolts"
    assert abs(told["top_rpm"] / 1100 - 1) < 0.01
    with page.expect_navigation():
        page.get_by_role("button", name="Save it as a finding").click()
    assert workshop.jobs.get(number).entries[-1].body.recording == told["recording"]
    assert workshop.uploads.unfinished(number) == {}
    opened(page, place, number)
    expect(page.locator("#kept")).to_be_hidden()


def test_a_denied_permission_is_told_and_nothing_is_recorded(page, place, number):
    page.add_init_script(ASKS.format(answer="denied"))
    opened(page, place, number)
    page.get_by_role("button", name="Record with this phone").click()
    expect(page.get_by_role("alert")).to_contain_text("answer “Allow”")
    expect(page.locator("#live")).to_be_hidden()
    assert place[0].uploads.unfinished(number) == {}


def test_a_computer_without_a_sensor_is_told(page, place, number):
    opened(page, place, number)
    page.get_by_role("button", name="Record with this phone").click()
    page.evaluate("() => dispatchEvent(new DeviceMotionEvent('devicemotion', {}))")
    expect(page.get_by_role("alert")).to_contain_text("No readings come", timeout=20_000)
    expect(page.get_by_role("button", name="Record with this phone")).to_be_visible()


def test_stop_during_the_count_leads_back(page, place, number, rows):
    opened(page, place, number)
    page.get_by_role("button", name="Record with this phone").click()
    page.evaluate(FEEL, rows[:30])
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("button", name="Record with this phone")).to_be_visible()
    page.wait_for_timeout(6000)  # longer than the count
    expect(page.locator("#live")).to_be_hidden()
    assert place[0].uploads.unfinished(number) == {}


def test_a_wrong_speed_is_told_before_anything_starts(page, place, number):
    opened(page, place, number)
    page.get_by_label("Spin speed").fill("fast")
    page.get_by_role("button", name="Record with this phone").click()
    expect(page.get_by_role("alert")).to_contain_text("200 to 3000")
    expect(page.locator("#live")).to_be_hidden()


def test_a_lost_line_keeps_the_readings_and_sends_them_later(page, place, number, rows):
    workshop, _ = place
    opened(page, place, number)
    begun(page, rows)
    page.evaluate(FEEL, rows[:1000])
    come(page, workshop, number, 1000 // PIECE_ROWS)
    page.context.set_offline(True)
    page.evaluate(FEEL, rows[1000:3000])
    waiting(page, "No line to the workshop")
    waiting(page, "kept here and not sent yet")
    assert list(workshop.uploads.unfinished(number).values()) == [1000 // PIECE_ROWS]
    page.evaluate(FEEL, rows[3000:])
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#state")).to_contain_text("stays on this phone")
    with page.expect_navigation(timeout=30_000):
        page.context.set_offline(False)
    told = json.loads(page.request.get(page.url.replace("/jobs/", "/api/jobs/")).text())
    _, data = workshop.recordings.get(told["recording"])
    assert len(gzip.decompress(data).splitlines()) == len(rows) + 1
    assert told["groups"][0]["group"] == "transit_bolts"


def test_a_page_that_was_closed_in_between_sends_what_it_had(page, place, number, rows):
    workshop, _ = place
    opened(page, place, number)
    begun(page, rows)
    page.evaluate(FEEL, rows[:1800])
    come(page, workshop, number, 10)
    page.context.set_offline(True)
    page.evaluate(FEEL, rows[1800:3600])
    waiting(page, "10 pieces kept here")
    page.goto("about:blank")
    page.context.set_offline(False)
    opened(page, place, number)
    expect(page.locator("#kept")).to_contain_text(f"job {number}: 60 s in 20 pieces, cut off")
    with page.expect_navigation(timeout=30_000):
        page.get_by_role("button", name="Send it now").click()
    assert page.url.startswith(f"{place[1]}/jobs/{number}/recording/")
    assert workshop.uploads.unfinished(number) == {}


def test_an_answer_that_was_lost_does_no_harm(page, place, number, rows):
    """The workshop has the piece, but its answer never reached the phone; so it comes again."""
    opened(page, place, number)
    lost = []

    def lose(route):
        answer = route.fetch()
        if answer.ok and len(lost) < 4:
            lost.append(route.request.method)
            route.abort()
        else:
            route.fulfill(response=answer)

    page.route("**/api/jobs/*/record/**", lose)
    begun(page, rows)
    page.evaluate(FEEL, rows[:1900])
    with page.expect_navigation(timeout=60_000):
        page.get_by_role("button", name="Stop").click()
    assert len(lost) == 4
    _, data = place[0].recordings.get(page.url.rsplit("/", 1)[1].partition("?")[0])
    assert len(gzip.decompress(data).splitlines()) == 1901


def test_too_short_a_recording_is_told_and_can_be_thrown_away(page, place, number, rows):
    opened(page, place, number)
    begun(page, rows)
    page.evaluate(FEEL, rows[:100])
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("alert")).to_contain_text("lasts", timeout=20_000)
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("#kept")).to_be_hidden()


def test_a_real_event_of_the_browser_is_heard(page, place, number):
    """Chromium's own emulated sensor, in real time: its rate and rounding are those of a phone's browser."""
    opened(page, place, number)
    inside = page.context.new_cdp_session(page)
    for kind in ("accelerometer", "linear-acceleration", "gyroscope"):
        metadata = {"available": True, "minimumFrequency": 1, "maximumFrequency": 60}
        inside.send(
            "Emulation.setSensorOverrideEnabled",
            {"enabled": True, "type": kind, "metadata": metadata},
        )
    for kind in ("linear-acceleration", "gyroscope"):
        inside.send(
            "Emulation.setSensorOverrideReadings",
            {"type": kind, "reading": {"xyz": {"x": 0, "y": 0, "z": 0}}},
        )
    page.get_by_role("button", name="Record with this phone").click()
    for step in range(160):
        reading = {"xyz": {"x": 0.3 * (step % 2), "y": 0.0, "z": 9.81}}
        inside.send(
            "Emulation.setSensorOverrideReadings", {"type": "accelerometer", "reading": reading}
        )
        page.wait_for_timeout(40)
    expect(page.locator("#state")).to_contain_text("Recording. ", timeout=20_000)
    expect(page.locator("#lasts")).not_to_have_text("0:00", timeout=20_000)
