"""Papers for a customer are in the customer's language: kept as evidence, else the workshop's, else the reader's."""

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader
from tests.web.workbench import INTAKE

from counterpoise.workshop.jobs.entries import Note

GERMAN = {"cookie": "language=de"}


def text_of(pdf):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def speaks(client, path, headers=None):
    page = client.get(path, headers=headers).text
    return page.partition('<html lang="')[2][:2]


@pytest.fixture
def taken(client, workshop):
    """The number of a job taken in by the page for somebody who reads German."""
    form = {
        "family": "bench",
        "complaints": "shakes",
        "owner": "customer",
        "language": "de",
        "title": "Settings",
    }
    answer = client.post("/jobs", data=form)
    return int(answer.headers["location"].rpartition("/")[2])


def test_the_papers_of_a_customer_are_in_theirs_and_the_bench_in_the_hands_own(client, taken):
    for paper in ("quote", "sheet"):
        assert speaks(client, f"/jobs/{taken}/{paper}") == "de"
        # another can be asked for, to read it before it is handed over
        assert speaks(client, f"/jobs/{taken}/{paper}?language=en") == "en"
    assert speaks(client, f"/jobs/{taken}") == "en"
    quote = text_of(client.get(f"/jobs/{taken}/quote.pdf").content)
    assert f"Erste Schätzung zum Auftrag {taken}" in quote
    assert "Unterschrift" in quote
    sheet = text_of(client.get(f"/jobs/{taken}/sheet.pdf").content)
    assert "Was es sein könnte" in sheet
    assert "What it could be" in text_of(client.get(f"/jobs/{taken}/sheet.pdf?language=en").content)


def test_the_language_stands_in_the_evidence_and_can_be_changed(client, workshop, taken):
    assert "papers in Deutsch" in client.get(f"/jobs/{taken}/evidence").text
    assert (
        client.post(f"/jobs/{taken}/notes", data={"last": "1", "language": "en"}).status_code == 303
    )
    assert workshop.jobs.get(taken).language == "en"
    assert speaks(client, f"/jobs/{taken}/sheet", GERMAN) == "en"
    assert "Papiere auf English." in client.get(f"/jobs/{taken}/evidence", headers=GERMAN).text
    # taken back, what was said at the counter holds again
    workshop.jobs.record(taken, Note("", language="fr"))
    assert workshop.jobs.get(taken).language == "fr"
    # there are no texts in it: as whoever makes the paper reads
    assert speaks(client, f"/jobs/{taken}/sheet", GERMAN) == "de"


@pytest.mark.parametrize("code", ["DE", "deu", "d", "../"])
def test_what_is_no_language_is_refused_by_form_json_and_setting(client, number, code):
    form = client.post(f"/jobs/{number}/notes", data={"last": "1", "text": "x", "language": code})
    sent = client.post(f"/api/jobs/{number}/notes", json={"text": "x", "language": code})
    setting = client.post("/api/settings", json={"changes": {"language": code}})
    assert [form.status_code, sent.status_code, setting.status_code] == [422, 422, 422]
    assert client.get(f"/api/jobs/{number}/evidence").json()["last"] == 1


def test_the_workshops_language_holds_where_a_customers_was_not_said(client, workshop, number):
    assert speaks(client, f"/jobs/{number}/quote") == "en"
    workshop.change_settings({"language": "de"})
    assert speaks(client, f"/jobs/{number}/quote") == "de"
    other = workshop.jobs.open(replace(INTAKE, language="en"), "ada").number
    assert speaks(client, f"/jobs/{other}/quote", GERMAN) == "en"
    workshop.change_settings({"language": ""})
    assert speaks(client, f"/jobs/{number}/quote", GERMAN) == "de"


def test_the_answer_keeps_the_words_that_the_customer_read(client, workshop, taken):
    paper = client.get(f"/api/jobs/{taken}/quote").json()
    assert paper["heading"] == "First estimate"
    form = {
        "answer": "repair_hand_back", "agreed_by": "More", "price_minor": str(paper["price_minor"]),
        "repair": paper["repairs"], "last": "1", "language": "de",
    }  # fmt: skip
    assert client.post(f"/jobs/{taken}/quote", data=form).status_code == 303
    words = " ".join(workshop.jobs.get(taken).decision.quote_words)
    assert "Was es kostet: Die Reparatur wie geplant kostet" in words
    # a name is nobody's text of ours
    assert "angenommen von More zu" in client.get(f"/jobs/{taken}/evidence", headers=GERMAN).text


def test_what_a_person_typed_stays_on_paper(client, workshop, number):
    workshop.jobs.open(replace(INTAKE, contact="More", story="Settings", maker="Closed"), "ada")
    workshop.jobs.record(2, Note("Settings"))
    sheet = text_of(client.get("/jobs/2/sheet.pdf?language=de").content)
    assert {"More", "Settings", "Closed"} <= set(sheet.split())
    page = client.get("/jobs/2/sheet?language=de").text
    assert "<dd>Closed</dd>" in page
    assert "<span>Settings" in page
