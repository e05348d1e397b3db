"""How many taps each task takes, held against the table in docs/pages.md.

A tap is anything a thumb does: a link, a button, a tick, a field tapped before it is typed into.
What the phone itself asks (its keys, its picker of files) is not counted.
"""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from tests.spin.shared import recording_file
from tests.web.browser import PHONE, chromium, served
from tests.web.workbench import STOCKED, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.web.app import create_app
from counterpoise.workshop.parts.stock import Receipt
from counterpoise.workshop.store.store import Store

pytestmark = pytest.mark.browser
PAGES = Path(__file__).parents[3] / "docs" / "pages.md"


def promised_taps():
    """Taps by task as the table in docs/pages.md gives them."""
    table = PAGES.read_text().split("## Taps", 1)[1].split("\n## ", 1)[0]
    return {
        task: int(taps)
        for task, taps in re.findall(r"^\| ([^|]+?) \| (\d+) \|", table, re.MULTILINE)
    }


class Thumb:
    """Taps, and counts them."""

    def __init__(self, page, files):
        self.page, self.files, self.taps = page, files, 0

    def tap(self, what):
        what.tap()
        self.taps += 1

    def lead(self, what):
        """A tap after which another page stands there."""
        with self.page.expect_navigation():
            self.tap(what)

    def type(self, label, text):
        self.fill(self.page.get_by_label(label), text)

    def fill(self, field, text):
        self.tap(field)
        field.fill(text)

    def choose(self, label, name):
        self.taps += 1
        self.page.get_by_label(label).first.set_input_files(self.files / name)

    def button(self, name):
        self.lead(self.page.get_by_role("button", name=name, exact=True))

    def link(self, name):
        self.lead(self.page.get_by_role("link", name=name))

    def place(self, name):
        """A place of the bar at the bottom."""
        self.lead(self.page.locator("nav.bar").get_by_role("link", name=name, exact=True))

    def more(self, name):
        self.tap(self.page.locator("nav.bar summary"))
        self.place(name)


def take_in(thumb):
    thumb.place("Take in")
    thumb.tap(thumb.page.get_by_text("Shakes hard in the spin"))
    thumb.button("Open the job")


def six_findings(thumb):
    """Four along the plan, one of them a reading, and two of one's own choice."""
    thumb.button("Yes, it was moved")
    thumb.button("It moves with the tub")
    thumb.type("Free play at the rim", "0,8")
    thumb.button("Save this reading")
    thumb.button("Both sound")
    for check, answer in (
        ("Ask whether it was moved", "No"),
        ("Look at the springs", "Both sound"),
    ):
        thumb.link("Do something else")
        thumb.link(check)
        thumb.button(answer)


def take_back(thumb):
    thumb.button("Undo")


def measure(thumb):
    thumb.more("Measure")
    thumb.link("Play of the drum")
    thumb.fill(thumb.page.locator("[name='m.radial.0']"), "0,4")
    thumb.fill(thumb.page.locator("[name='m.radial.1']"), "0,6")
    thumb.button("Show what it says")
    thumb.button("Keep it as a note")


def photograph(thumb):
    thumb.place("Evidence")
    thumb.choose("Photos", "foot.png")
    thumb.button("Add")


def send_recording(thumb):
    thumb.place("Bench")
    thumb.more("Send a recording")
    thumb.choose("File of the recording", "spin.csv.gz")
    thumb.button("Read it")
    thumb.lead(thumb.page.locator("form.answer button.go").first)


def quote(thumb):
    thumb.more("Quote")
    thumb.tap(thumb.page.get_by_text("Yes: repair it for"))
    thumb.button("Save the answer")


def decide(thumb):
    thumb.place("Decide")
    thumb.button("Save the decision")


def repair(thumb):
    thumb.button("This repair is done")


def prove(thumb):
    thumb.button("It ran true")


def close(thumb):
    thumb.link("Done: close the job")
    thumb.tap(thumb.page.get_by_role("group", name="Dampers worn").get_by_text("seen", exact=True))
    thumb.type("Received", "120")
    thumb.button("Close the job")


def read_sheet(thumb):
    thumb.place("Sheet")


def plan_hours(thumb):
    thumb.place("Jobs")
    thumb.place("Which next")


def look_at_shelf(thumb):
    thumb.place("Shelf")


# one job from its intake to its sheet, in this order
TASKS = {
    "take a machine in, one complaint ticked": take_in,
    "six findings: four along the plan, one of them a reading, two picked": six_findings,
    "take the last one back": take_back,
    "a measurement of two readings, kept": measure,
    "a photo with the evidence": photograph,
    "the file of a recording, read and saved": send_recording,
    "the quote and the customer's answer": quote,
    "decide as advised": decide,
    "a repair done": repair,
    "the proof run": prove,
    "close: what it was, what came in": close,
    "the job sheet": read_sheet,
    "which machine next, from a job": plan_hours,
    "what is on the shelf": look_at_shelf,
}


@pytest.fixture(scope="module")
def counted(tmp_path_factory):
    """Taps by task, each task done in a browser without scripts."""
    files = tmp_path_factory.mktemp("taps")
    Image.new("RGB", (300, 200), "grey").save(files / "foot.png")
    (files / "spin.csv.gz").write_bytes(recording_file("r002").read_bytes())
    check = replace(load_family("front_loader").checks["spin_recording"], cautions=())
    family = replace(STOCKED, checks=STOCKED.checks | {"spin_recording": check})
    taps = {}
    with Store(files / "workshop.db") as store, chromium() as browser:
        workshop = ForeseeableWorkshop(store, {"bench": family})
        workshop.stock.receive(Receipt("bench", "damper_set", "new", 3), "ada")
        with served(create_app(workshop)) as address:
            page = browser.new_context(
                viewport=PHONE, has_touch=True, java_script_enabled=False
            ).new_page()
            page.goto(address + "/jobs")
            thumb = Thumb(page, files)
            for task, do in TASKS.items():
                before = thumb.taps
                do(thumb)
                taps[task] = thumb.taps - before
        job = workshop.jobs.get(1)
    # each task has done what it is named after
    kinds = [type(entry.body).__name__ for entry in job.entries]
    assert kinds.count("Finding") == 7  # six and the recording's
    assert {"Retraction", "Note", "Decision", "RepairDone", "Proof", "Closed"} <= set(kinds)
    return taps


def test_each_task_takes_the_taps_that_the_table_says(counted):
    assert counted == promised_taps()
