"""The machine in motion on the job sheet: on the page, in the HTML file, on paper."""

import io
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from pypdf import PdfReader
from tests.web.workbench import FAMILY, FAULTS, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.report.paper import sheet_spin
from counterpoise.report.paper.html import sheet_html
from counterpoise.report.paper.pdf import sheet_pdf
from counterpoise.report.paper.sheet import build_sheet
from counterpoise.report.paper.sheet_spin import spin_of, with_spin
from counterpoise.report.views.job import job_view
from counterpoise.workshop.jobs.entries import Closed, Figures
from counterpoise.workshop.jobs.in_motion import no_model
from counterpoise.workshop.store.store import Store

TWINS = {"damper_worn": "damper_weak", "support_cracked": "drum_support_cracked", "not_level": None}


@pytest.fixture
def workshop(tmp_path):
    faults = {key: replace(fault, twin=TWINS[key]) for key, fault in FAULTS.items()}
    own = replace(
        FAMILY, id="front_loader", faults=faults, figures=load_family("front_loader").figures
    )
    with Store(tmp_path / "workshop.db", lambda: "2026-03-01T09:00:00Z") as store:
        yield ForeseeableWorkshop(store, {"front_loader": own, "bench": FAMILY})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(replace(INTAKE, family="front_loader"), "ada").number


def sheet(workshop, number):
    seen = job_view(workshop, number)
    return with_spin(build_sheet(seen), seen)


def test_the_sheet_sets_the_leading_suspect_beside_the_sound_machine(workshop, number):
    made = sheet(workshop, number)
    assert made.spin.title == "Spin simulation to 1200 rpm: healthy, and with all dampers worn"
    # worn dampers show with something heavy in the drum, so that is what is spun
    assert made.spin.sentences[0].startswith("With 1.2 kg out of balance: travel of the tub")
    assert "times; more in" in made.spin.sentences[0]
    assert "as machines of its kind usually are, 1.2 kg out" in made.spin.sentences[-1]
    assert "not to be tried" in made.spin.sentences[-1]
    drawn = ET.fromstring(made.spin.svg)
    assert len(drawn.findall(".//{http://www.w3.org/2000/svg}g[@id='figure_1']")) == 1
    assert "<text" not in made.spin.svg  # drawn letters: the typesetter has other fonts
    html = sheet_html(made)
    assert html.count("<svg") == 2  # the machine, and its spin
    assert made.spin.sentences[0] in html


def test_a_suspicion_below_even_odds_is_not_simulated(workshop, number, monkeypatch):
    # the leading suspect stands at 52 %
    monkeypatch.setattr(sheet_spin, "_LIKELY_ENOUGH", 0.53)
    assert spin_of(job_view(workshop, number), form="") is None


def test_paper_carries_the_figure(workshop, number):
    seen = job_view(workshop, number)
    bare = build_sheet(seen)
    plain, drawn = sheet_pdf(bare), sheet_pdf(sheet(workshop, number))
    text = " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(drawn)).pages).split()
    )
    assert "healthy, and with all dampers worn" in text
    assert "Calculated, not measured" in text
    assert len(drawn) > len(plain) + 10_000  # its lines
    assert drawn == sheet_pdf(sheet(workshop, number))


def test_a_machines_own_figures_stand_on_its_sheet_and_count(workshop, number):
    workshop.jobs.record(number, Figures({"dampers": 4.0, "spin_rpm": 800.0}, "counted"))
    made = sheet(workshop, number)
    assert {row.label: row.text for row in made.machine}[
        "Machine data"
    ] == "Dampers 4; Top spin speed 800 rpm"
    assert made.spin.title.startswith("Spin simulation to 800 rpm")
    assert "with the figures of this machine" in made.spin.sentences[-1]
    assert [line.what for line in made.lines] == ["Figures of the machine, seen and counted"]


def test_a_closed_job_shows_what_was_found(workshop, number):
    workshop.jobs.record(number, Closed("part_out", ("support_cracked",)))
    made = spin_of(job_view(workshop, number))
    assert made.title.endswith("with drum support cracked")
    # a cracked support shows with a load that spread, and is not spun with more
    assert made.sentences[0].startswith("With 0.3 kg out of balance: shake twice a turn")


@pytest.mark.parametrize(
    ("key", "title"),
    [
        ("damper_worn:early", "all dampers worn"),
        ("damper_worn:gone", "no grip left in any damper"),
        ("damper_separated", "one damper without grip"),
        ("front_weight_loose", "a counterweight loose"),
        ("drum_support:corroded", "drum support cracked, 30 % of the gross form"),
    ],
)
def test_the_figure_is_of_the_state_that_was_found(workshop, number, key, title):
    workshop.families._families["front_loader"] = load_family("front_loader")
    workshop.jobs.record(number, Closed("part_out", (key,)))
    made = spin_of(job_view(workshop, number), form="")
    assert made.title.endswith(f"healthy, and with {title}")
    assert "in good order" in made.sentences[0]


def test_without_model_the_reason_is_said_and_without_a_fault_there_is_none(workshop, number):
    other = workshop.jobs.open(INTAKE).number
    # said in the words that are said everywhere, and nothing is drawn
    said = spin_of(job_view(workshop, other))
    assert said.sentences == (f"{no_model(job_view(workshop, other).family)}.",)
    assert said.svg == ""
    workshop.jobs.record(number, Closed("hand_back", ("not_level",)))
    assert spin_of(job_view(workshop, number)) is None


def test_figures_that_cannot_be_together_are_told_in_place_of_the_drawing(workshop, number):
    workshop.jobs.record(number, Figures({"machine_kg": 92.0, "cabinet_kg": 12.0}, "plate"))
    made = spin_of(job_view(workshop, number))
    assert made.svg == ""
    assert "50 to 78 kg is valid" in made.sentences[0]
    assert "50 to 78 kg is valid" in sheet_html(sheet(workshop, number))


def test_a_phone_gets_the_three_curves_below_each_other(workshop, number):
    wide, tall = (
        ET.fromstring(spin_of(job_view(workshop, number), form=form).svg)
        for form in ("wide", "tall")
    )
    width, height = (float(tall.get(side).removesuffix("pt")) for side in ("width", "height"))
    assert height > 2.0 * width
    assert float(wide.get("width").removesuffix("pt")) > 2.0 * float(
        wide.get("height").removesuffix("pt")
    )
