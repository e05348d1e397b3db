"""Photos and the recorded spin on the job sheet: page, file, paper."""

import io
from dataclasses import replace

import pytest
from PIL import Image
from pypdf import PdfReader
from tests.spin.shared import recording_file
from tests.web.workbench import FAMILY, INTAKE, ForeseeableWorkshop

from counterpoise.catalog.loader import load_family
from counterpoise.report.paper.html import sheet_html
from counterpoise.report.paper.pdf import sheet_pdf
from counterpoise.report.paper.sheet import build_sheet
from counterpoise.report.paper.sheet_pictures import photos_of, with_curve
from counterpoise.report.views.job import job_view
from counterpoise.workshop.jobs.entries import Note, Proof, Retraction
from counterpoise.workshop.store.store import Store

CHECK = load_family("front_loader").checks["spin_recording"]
WITH_SPIN = replace(FAMILY, checks=FAMILY.checks | {"spin_recording": CHECK})


@pytest.fixture
def workshop(tmp_path):
    with Store(tmp_path / "workshop.db", lambda: "2026-03-01T09:00:00Z") as store:
        yield ForeseeableWorkshop(store, {"bench": WITH_SPIN})


@pytest.fixture
def number(workshop):
    return workshop.jobs.open(INTAKE, "ada").number


def photo(workshop, colour):
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), colour).save(out, "JPEG")
    return workshop.photos.add(out.getvalue())


def sheet(workshop, number, **how):
    view = job_view(workshop, number)
    return with_curve(build_sheet(view), view, workshop, **how)


def test_photos_stand_with_the_words_of_their_entry(workshop, number):
    first, second = photo(workshop, "red"), photo(workshop, "blue")
    workshop.jobs.record(number, Note("Oily damper", photos=(first,)))
    workshop.jobs.record(number, Note("Wrong machine", photos=(second,)))
    workshop.jobs.record(number, Retraction(3, "slip"))
    made = sheet(workshop, number)
    assert [(each.id, each.words) for each in made.photos] == [(first, "2. Oily damper")]
    small = photos_of(made, workshop)
    assert max(Image.open(io.BytesIO(small[first])).size) <= 900
    html = sheet_html(made, small)
    assert html.count("data:image/jpeg;base64,") == 1
    assert "2. Oily damper</small>" in html
    # a file that nobody handed over leaves no hole
    assert "<img" not in sheet_html(made)
    paper = PdfReader(io.BytesIO(sheet_pdf(made, small)))
    assert sum(len(page.images) for page in paper.pages) == 1
    assert "Photos" in " ".join(page.extract_text() for page in paper.pages)


def test_the_recorded_spin_is_drawn_before_and_after_over_each_other(workshop, number):
    before, after = (
        workshop.recordings.add(f"{name}.csv.gz", recording_file(name).read_bytes())
        for name in ("r002", "r003")
    )
    assert sheet(workshop, number).curve is None
    workshop.jobs.record(number, Note("Recorded before the repair. Shakes.", recording=before))
    alone = sheet(workshop, number)
    assert alone.curve.title == "The recorded spin"
    assert "before</text>" not in alone.curve.svg
    workshop.jobs.record(number, Proof(True, 12.0, recording=after))
    made = sheet(workshop, number)
    assert made.curve.title == "The recorded spin, before and after"
    assert "before</text>" in made.curve.svg
    # on paper of a fixed width, on a page as wide as there is room
    assert 'width="640"' in made.curve.svg
    assert 'width="100%"' in sheet(workshop, number, drawn="page").curve.svg
    assert sheet(workshop, number, drawn="").curve.svg == ""
    assert made.curve.sentence in sheet_html(made)
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(sheet_pdf(made))).pages)
    assert "The recorded spin, before and after" in " ".join(text.split())
