import io

import pytest
from pypdf import PdfReader
from tests.web.workbench import DECIDED, FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.report.paper.html import sheet_html
from counterpoise.report.paper.pdf import code_svg, sheet_pdf
from counterpoise.report.paper.sheet import build_sheet
from counterpoise.report.views.job import job_view
from counterpoise.workshop.jobs.entries import Closed, Finding, Intake, Note, Proof, RepairDone
from counterpoise.workshop.store.store import Store

# what would do something if a typesetter or a browser read it as markup
TRICKY = "#panic() *bold* $x$ [a] <script>alert(1)</script> \\ `code` // {{ 7*7 }}"


@pytest.fixture
def workshop(tmp_path):
    with Store(tmp_path / "workshop.db", lambda: "2026-03-01T09:00:00Z") as store:
        yield ForeseeableWorkshop(store, {"bench": FAMILY})


@pytest.fixture
def sheet(workshop):
    def made(number, address=""):
        return build_sheet(job_view(workshop, number), address)

    return made


def text_of(pdf):
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split()
    )


def test_the_sheet_tells_the_job_in_order(workshop, sheet):
    number = workshop.jobs.open(INTAKE, "ada").number
    workshop.jobs.record(number, Finding("drum_by_hand", "with_tub", minutes=2, note="no knock"))
    workshop.jobs.record(number, Finding("play", "", reading=0.8))
    workshop.jobs.retract(number, 3, "wrong gauge")
    workshop.jobs.record(number, DECIDED)
    made = sheet(number)
    assert made.heard == ("Shakes hard in the spin", "Walks across the floor")
    assert [line.what for line in made.lines] == [
        "Move the drum by hand against the tub",
        "Decision: Repair and hand back",
    ]
    assert made.decision == "Repair and hand back, agreed at 120.00 EUR"
    assert made.why == "the customer agreed by telephone"
    assert made.spent == "2 min"
    assert [part.title for part in made.work] == [
        "Open first: Top cover",
        "Replace the set of dampers",
        "Prove it on a spin",
    ]


@pytest.mark.parametrize(
    "form", [lambda made: text_of(sheet_pdf(made)), sheet_html], ids=["pdf", "html"]
)
def test_cautions_come_before_the_steps_they_are_about(workshop, sheet, form):
    number = workshop.jobs.open(INTAKE, "ada").number
    workshop.jobs.record(number, DECIDED)
    text = form(sheet(number))
    at = -1
    for told in (
        "Pull the plug",
        "sheet edges cut",
        "Two screws",
        "Take out the old",
        "Stay clear",
        "Spin it empty",
    ):
        at = text.index(told, at + 1)


def test_texts_are_never_read_as_markup(workshop, sheet):
    intake = Intake(
        "bench", "customer", TRICKY, ("shakes",), 6.0, {}, TRICKY, TRICKY, TRICKY, TRICKY, TRICKY
    )
    number = workshop.jobs.open(intake, TRICKY).number
    workshop.jobs.record(number, Finding("drum_by_hand", "with_tub", note=TRICKY))
    workshop.jobs.record(number, Note(TRICKY))
    workshop.change_settings({"workshop_name": TRICKY})
    made = sheet(number)
    pdf, html = text_of(sheet_pdf(made)), sheet_html(made)
    assert pdf.count("#panic() *bold* $x$ [a] <script>") > 5
    assert "<script" not in html
    assert html.count("&lt;script&gt;") > 5


def test_the_html_needs_nothing_else(workshop, sheet):
    html = sheet_html(sheet(workshop.jobs.open(INTAKE).number))
    assert "<style>" in html
    assert "src=" not in html
    assert "href=" not in html


def test_a_closed_job_says_how_it_ended_and_gives_no_work(workshop, sheet):
    number = workshop.jobs.open(INTAKE).number
    workshop.jobs.record(number, RepairDone("replace_dampers", 40))
    workshop.jobs.record(number, Proof(True, 12))
    workshop.jobs.record(
        number, Closed("repair_hand_back", ("damper_worn:gone",), 12000, "runs true")
    )
    made = sheet(number)
    assert made.work == made.ways == made.suspects == ()
    assert made.ended == "Repair and hand back: Dampers worn (no grip left); brought in 120.00 EUR"
    assert "ran true" in text_of(sheet_pdf(made))


def test_the_code_leads_to_the_job(workshop, sheet):
    made = sheet(workshop.jobs.open(INTAKE).number, "http://192.168.7.20:8642/jobs/1")
    assert code_svg(made.address).startswith("<svg")
    assert code_svg("") == ""
    assert len(sheet_pdf(made)) > len(sheet_pdf(sheet(1)))


def test_a_long_job_runs_over_pages(workshop, sheet):
    number = workshop.jobs.open(INTAKE).number
    for _ in range(60):
        workshop.jobs.record(
            number, Note("A remark that says nothing much, but takes its line on the sheet.")
        )
    assert len(PdfReader(io.BytesIO(sheet_pdf(sheet(number)))).pages) > 1


def test_the_same_job_gives_the_same_paper(workshop, sheet):
    number = workshop.jobs.open(INTAKE).number
    assert sheet_pdf(sheet(number)) == sheet_pdf(sheet(number))


def test_a_caution_is_not_said_twice_on_the_way_to_one_step(workshop, sheet):
    number = workshop.jobs.open(INTAKE, "ada").number
    workshop.jobs.record(number, DECIDED)
    way, repair, proof = sheet(number).work
    assert len(way.cautions) == 2
    assert repair.cautions == ()
    assert proof.cautions
