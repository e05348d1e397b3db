"""The pages in a real browser, at the size of a phone, with and without scripts allowed."""

import pytest
from tests.web.browser import DESK, PHONE, chromium, served
from tests.web.workbench import DECIDED, INTAKE, STOCKED, ForeseeableWorkshop

from counterpoise.web.app import create_app
from counterpoise.workshop.jobs.entries import Finding, Note, Retraction
from counterpoise.workshop.parts.stock import Move, Receipt
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser

# a long word, as a serial number or an address can be
LONG = "W" * 60
PAGES = [
    "/jobs", "/jobs/new", "/jobs/1", "/jobs/1/steps", "/jobs/1/steps/check/play", "/jobs/1/steps/check/look_springs",
    "/jobs/1/steps/repair/replace_dampers", "/jobs/1/steps/proof/proof", "/jobs/1/evidence", "/jobs/1/decision",
    "/jobs/1/estimate", "/jobs/1/quote", "/jobs/1/close", "/jobs/1/sheet", "/jobs/2", "/settings", "/yard", "/ledger",
    "/jobs/1/parts", "/jobs/1/recording", "/jobs/1/record", "/phone", "/people", "/sign-in", "/prices", "/stock", "/stock/bench/damper_set",
    "/jobs/77", "/kept",
]  # fmt: skip
SMALL = """() => [...document.querySelectorAll('a, button, summary, input:not([type=hidden]), textarea, select')]
  .filter(one => !one.classList.contains('skip') && one.checkVisibility())
  .map(one => [one, (one.closest('label.tick') || one).getBoundingClientRect()])
  .filter(([one, box]) => box.height < 48 || box.width < 48)
  .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${box.width}x${box.height}`)"""
TOO_WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
LATE = """() => [...document.querySelectorAll('.caution, .sheet-caution')].filter(
  caution => [...caution.parentElement.querySelectorAll('ol')].some(
    steps => !(caution.compareDocumentPosition(steps) & Node.DOCUMENT_POSITION_FOLLOWING))).length"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    with Store(tmp_path_factory.mktemp("browser") / "workshop.db") as store:
        workshop = ForeseeableWorkshop(store, {"bench": STOCKED})
        workshop.jobs.open(INTAKE, "ada")
        workshop.jobs.record(
            1, Finding("drum_by_hand", "on_its_own", minutes=3, note=f"knocks {LONG}")
        )
        workshop.jobs.record(1, Finding("play", "none"))
        workshop.jobs.record(1, Note("wrong machine"))
        workshop.jobs.record(1, Retraction(4, "it was the right one"))
        workshop.jobs.open(INTAKE, "ada")
        workshop.jobs.record(2, DECIDED)
        for kind in ("used", "new"):
            maker = LONG if kind == "new" else ""
            lot = workshop.stock.receive(
                Receipt("bench", "damper_set", kind, 3, LONG, maker=maker), LONG
            )
        workshop.stock.move(Move(lot.number, "reserved", 1, 2, note=LONG), "ada")
        with served(create_app(workshop)) as address:
            yield workshop, address


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def phone(browser):
    page = browser.new_context(viewport=PHONE, has_touch=True).new_page()
    yield page
    page.context.close()


@pytest.mark.parametrize("path", PAGES)
def test_a_page_fits_the_phone_and_the_thumb(phone, place, path):
    trouble = []
    phone.on(
        "console",
        lambda said: trouble.append(said.text) if "Content Security" in said.text else None,
    )
    phone.goto(place[1] + path)
    phone.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true })")
    assert phone.evaluate(TOO_WIDE) <= 0
    assert phone.evaluate(SMALL) == []
    assert phone.evaluate(LATE) == 0
    assert trouble == []


@pytest.mark.parametrize(
    ("path", "texts"),
    [
        ("/jobs/2/steps/check/play", ["Pull the plug", "Set the gauge"]),
        (
            "/jobs/2/steps/check/look_springs",
            ["Pull the plug", "sheet edges cut", "Two screws", "Look at both"],
        ),
        (
            "/jobs/2/steps/repair/replace_dampers",
            ["Pull the plug", "sheet edges cut", "Two screws", "Fit the new"],
        ),
        ("/jobs/1/steps/proof/proof", ["Stay clear of the turning drum", "Spin it empty"]),
        ("/jobs/2/sheet", ["Pull the plug", "Two screws", "Take out", "Stay clear", "Spin it"]),
    ],
)
def test_cautions_are_read_before_the_steps_they_are_about(phone, place, path, texts):
    phone.goto(place[1] + path)
    read, at = phone.inner_text("main"), 0
    for text in texts:
        at = read.index(text, at) + 1


def test_a_caution_worked_under_before_is_a_mark_before_the_steps_and_opens(phone, place):
    phone.goto(place[1] + "/jobs/1/steps/check/play")
    read = phone.inner_text("main")
    assert "Pull the plug" not in read
    assert read.index("As before: plug out") < read.index("Set the gauge")
    phone.get_by_text("As before: plug out").click()
    opened = phone.inner_text("main")
    assert opened.index("Pull the plug") < opened.index("Set the gauge")


@pytest.mark.parametrize("path", PAGES)
def test_a_page_fits_the_desk(browser, place, path):
    page = browser.new_context(viewport=DESK).new_page()
    page.goto(place[1] + path)
    assert page.evaluate(TOO_WIDE) <= 0
    page.context.close()


def test_nothing_is_fetched_from_elsewhere(browser, place):
    page = browser.new_context(viewport=PHONE).new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for path in ("/jobs", "/jobs/1", "/jobs/1/evidence"):
        page.goto(place[1] + path)
    assert asked
    assert all(url.startswith(place[1] + "/") for url in asked)
    page.context.close()


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_from_intake_to_a_closed_job(browser, place, scripts):
    workshop, address = place
    page = browser.new_context(
        viewport=PHONE, has_touch=True, java_script_enabled=scripts
    ).new_page()
    _take_in(page, address)
    number = int(page.url.rsplit("/", 1)[1])
    _find_out(page)
    _decide(page)
    _repair(page)
    _close(page)
    job = workshop.jobs.get(number)
    assert job.intake.age_years == 6.5
    assert job.intake.complaints == ("shakes", "walks")
    assert job.decision.agreed_minor == 12050
    assert job.closed.faults == ("damper_worn",)
    found = [entry.body for entry in job.entries if isinstance(entry.body, Finding)]
    assert [(one.check, one.outcome) for one in found] == [
        ("new_place", "yes"), ("drum_by_hand", "with_tub"), ("drum_by_hand", "could_not_tell"), ("play", "some"),
        ("look_springs", "sound"),
    ]  # fmt: skip
    assert found[1].minutes == 2.5
    page.context.close()


def _press(page, what):
    with page.expect_navigation():
        what.click()


def _take_in(page, address):
    page.goto(address + "/jobs")
    _press(page, page.get_by_role("link", name="Take in a machine"))
    page.get_by_text("Shakes hard in the spin").click()
    page.get_by_text("Walks across the floor").click()
    page.get_by_label("Age in years").fill("6,5")
    page.get_by_text("Belt and pulley").click()
    page.get_by_text("Was it moved lately?").first.click()
    page.get_by_text("Yes, it was moved").click()
    _press(page, page.get_by_role("button", name="Open the job"))


def _find_out(page):
    page.get_by_text("Add remark").click()
    page.get_by_label("Minutes it took").fill("2.5")
    _press(page, page.get_by_role("button", name="It moves with the tub"))
    _press(page, page.get_by_role("button", name="Undo"))
    _press(page, page.get_by_role("button", name="Could not tell"))
    page.get_by_label("Free play at the rim").fill("0,8")
    _press(page, page.get_by_role("button", name="Save this reading"))
    assert "Open first: Top cover" in page.content()
    _press(page, page.get_by_role("button", name="Both sound"))


def _decide(page):
    _press(page, page.get_by_role("link", name="Decide: Repair and hand back"))
    page.get_by_label("Price agreed").fill("120.50")
    _press(page, page.get_by_role("button", name="Save the decision"))


def _repair(page):
    _press(page, page.get_by_role("button", name="This repair is done"))
    _press(page, page.get_by_role("button", name="It ran true"))


def _close(page):
    _press(page, page.get_by_role("link", name="Done: close the job"))
    # what was repaired is proposed as likely; it was seen
    page.get_by_role("group", name="Dampers worn").get_by_text("seen", exact=True).click()
    page.get_by_label("Received").fill("120.50")
    _press(page, page.get_by_role("button", name="Close the job"))
    assert "This job is closed" in page.content()


def test_a_stale_page_says_so_and_keeps_what_was_typed(browser, place):
    workshop, address = place
    number = workshop.jobs.open(INTAKE, "ada").number
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(f"{address}/jobs/{number}")
    workshop.jobs.record(number, Finding("new_place", "no"), "bob")
    _press(page, page.get_by_role("button", name="Yes, it was moved"))
    assert "wrote to job" in page.content()
    assert len(workshop.jobs.get(number).entries) == 2
    page.context.close()


def test_a_photo_goes_in_from_the_phone(browser, place, tmp_path):
    from PIL import Image

    workshop, address = place
    number = workshop.jobs.open(INTAKE, "ada").number
    Image.new("RGB", (300, 200), "grey").save(tmp_path / "foot.png")
    page = browser.new_context(viewport=PHONE, java_script_enabled=False).new_page()
    page.goto(f"{address}/jobs/{number}/evidence")
    page.get_by_label("Photos").set_input_files(tmp_path / "foot.png")
    page.get_by_label("Note").fill("rust at the foot")
    _press(page, page.get_by_role("button", name="Add", exact=True))
    assert page.get_by_alt_text("Photo with entry 2").count() == 1
    assert workshop.photos.get(workshop.jobs.get(number).entries[-1].body.photos[0]).startswith(
        b"\xff\xd8"
    )
    page.context.close()
