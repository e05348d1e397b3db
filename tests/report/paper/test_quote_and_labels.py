"""The quote and the labels on paper: what the customer reads, and what the shelf is marked with."""

import io
from dataclasses import replace

import pytest
from pypdf import PdfReader
from tests.web.workbench import INTAKE

from counterpoise.report.paper.pdf import code_svg, labels_pdf, quote_pdf
from counterpoise.report.views.donor import Donor, Label
from counterpoise.report.views.job import job_view
from counterpoise.report.views.quote import quote_paper
from counterpoise.workshop.services.quote_answers import Passage, QuoteReply, record_answer

WORK = ("replace_dampers",)
MARKUP = "#panic() *b* <b> \\ $x$"


def text_of(pdf):
    pages = PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.fixture
def paper(stocked, stocked_job):
    return quote_paper(job_view(stocked, stocked_job), WORK)


def test_a_quote_says_price_ceiling_and_every_passage(paper):
    text = text_of(quote_pdf(paper))
    assert paper.price in text
    assert paper.ceiling in text
    for passage in paper.passages:
        assert passage.title in text
    for word in ("Yes, do this work", "Date", "Name", "Signature"):
        assert word in text


def test_it_is_in_the_order_in_which_it_is_decided(paper):
    text = text_of(quote_pdf(paper))
    at = -1
    for title in (
        "What is wrong",
        "What we would do",
        "What it costs",
        "Our guarantee",
        "Your answer",
    ):
        at = text.index(title, at + 1)


def test_what_is_free_has_no_ceiling_to_tick(paper):
    free = replace(paper, free=True, fee_minor=0)
    text = text_of(quote_pdf(free))
    assert "It costs me nothing" in text
    assert "At most" not in text
    assert "I owe" not in text


def test_a_customers_name_is_never_markup(paper):
    hostile = replace(paper, owner=MARKUP, title=MARKUP, passages=(Passage(MARKUP, (MARKUP,)),))
    assert text_of(quote_pdf(hostile)).count("#panic() *b* <b>") == 4


def test_the_same_quote_gives_the_same_bytes(paper):
    assert quote_pdf(paper) == quote_pdf(paper)


def test_the_words_of_an_answer_stand_on_the_next_copy(stocked, stocked_job, paper):
    assert paper.answer == ""
    reply = QuoteReply("repair_hand_back", "Ms Ferrin", paper.price_minor, WORK)
    record_answer(stocked, stocked.snapshot(stocked_job), reply, "ada")
    answered = quote_paper(job_view(stocked, stocked_job), WORK)
    assert answered.answer.startswith("Quote accepted by Ms Ferrin at ")


def test_a_declined_quote_names_the_way_taken(stocked, stocked_job, paper):
    reply = QuoteReply("replace", "Ms Ferrin", paper.price_minor, WORK)
    record_answer(stocked, stocked.snapshot(stocked_job), reply, "ada")
    assert quote_paper(job_view(stocked, stocked_job), WORK).answer.startswith(
        "Replace with a new one: quote of "
    )


def test_one_more_check_is_advised_before_a_price_is_promised(paper):
    assert paper.advice == "Ask whether it was moved"


def test_the_machine_is_named_as_its_owner_knows_it(stocked):
    named = stocked.jobs.open(
        replace(INTAKE, maker="Veltro", model="6", contact="Ms Ferrin")
    ).number
    paper = quote_paper(job_view(stocked, named), WORK)
    assert (paper.title, paper.owner) == ("Veltro 6", "Ms Ferrin")
    bare = stocked.jobs.open(INTAKE).number
    assert quote_paper(job_view(stocked, bare), WORK).title == "Front loader of the tests"


def test_labels_carry_their_lines_and_run_over_pages():
    labels = tuple(Label(f"Part {n}", ("Used", f"Place {n}")) for n in range(30))
    pdf = labels_pdf(Donor("Back Bench", 7, "EUR", (), (), labels))
    text = text_of(pdf)
    assert len(PdfReader(io.BytesIO(pdf)).pages) > 1
    assert "Part 29" in text
    assert text.count("No. 7") == 30
    assert text.count("Back Bench") == 30


def test_a_label_is_never_markup():
    pdf = labels_pdf(Donor(MARKUP, 7, "EUR", (), (), (Label(MARKUP, (MARKUP,)),)))
    assert text_of(pdf).count("#panic()") == 3


def test_a_code_is_there_where_there_is_an_address_to_lead_to():
    donor = Donor("Back Bench", 7, "EUR", (), (), (Label("Part", ()),))
    assert len(labels_pdf(donor, "http://192.168.7.20/stock/lots/7")) > len(labels_pdf(donor))
    assert code_svg("x" * 200).count("<svg") == 1
