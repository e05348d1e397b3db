"""The quote for the customer, as a page, as PDF and as JSON; and the customer's answer."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Response
from pydantic import Field, StringConstraints

from counterpoise.money.order import Quality
from counterpoise.report.languages import tongue
from counterpoise.report.paper.language import paper_language
from counterpoise.report.paper.pdf import quote_pdf
from counterpoise.report.views.job import Recorded, job_view, recorded
from counterpoise.report.views.quote import (
    QuotePaper,
    agreed,
    asks_again,
    price_figure,
    quote_paper,
)
from counterpoise.report.views.worth import leaving
from counterpoise.web.dependencies import WorkshopDep
from counterpoise.web.forms import Posted, parse, redirect
from counterpoise.web.pages.job.bench import JobNumber, kept_photos
from counterpoise.web.pages.job.estimate import Asked, Repairs, chosen_kinds
from counterpoise.web.render import page, reads
from counterpoise.web.schemas import Sent
from counterpoise.web.sending.once import WrittenOnce
from counterpoise.workshop.billing.terms import Terms
from counterpoise.workshop.jobs.choices import Safeguard
from counterpoise.workshop.jobs.entries import Photos
from counterpoise.workshop.jobs.fields import PLAIN_LETTERS, Ident, Minor, Short
from counterpoise.workshop.services.quote_answers import QuoteReply, record_answer
from counterpoise.workshop.services.workshop import Workshop

pages = APIRouter(route_class=WrittenOnce)
api = APIRouter(prefix="/api", route_class=WrittenOnce, tags=["quote"])
# Who agreed is what counts when it comes to a quarrel, so it is never empty.
Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=200, strip_whitespace=True, pattern=PLAIN_LETTERS),
]


class QuoteAnswerIn(Sent):
    """What the customer said to the quote of ``price_minor`` (minor units) for these ``repairs``.

    ``answer``: ``repair_hand_back`` accepts it; ``hand_back`` or ``replace`` declines.
    ``agreed_by``: who said it.
    """

    answer: Ident
    agreed_by: Name
    price_minor: Minor
    repairs: Annotated[tuple[Ident, ...], Field(min_length=1, max_length=40)]
    used: bool = False
    discounts: Annotated[tuple[Short, ...], Field(max_length=20)] = ()
    charged: bool = False
    photos: Photos = ()
    safeguard: Safeguard = ""
    parts: Annotated[dict[Ident, Quality], Field(max_length=60)] = Field(default_factory=dict)


def _put_down(
    workshop: Workshop, number: int, sent: QuoteAnswerIn, language: str = tongue.SOURCE
) -> int:
    terms = Terms(sent.used, sent.discounts, sent.charged, tuple(sent.parts.items()))
    reply = QuoteReply(
        sent.answer, sent.agreed_by, sent.price_minor, sent.repairs, terms, sent.photos,
        sent.safeguard, tongue.tongue(language).say,
    )  # fmt: skip
    # One state of job, settings and stock for the check of the price and for the entry.
    snapshot = workshop.snapshot(number)
    return record_answer(workshop, snapshot, reply, sent.hand, sent.expected_last)


@pages.get("/jobs/{number}/quote", include_in_schema=False)
def quote_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, repairs: Repairs, terms: Asked
) -> Response:
    """Show the quote, and ask for the customer's answer. Raises NotFoundError, InputError."""
    view = job_view(workshop, number)
    with tongue.reading(reads(request, paper_language(view))):
        paper = quote_paper(view, repairs, terms)
        figure = price_figure(paper)
    return page(
        request,
        "job/quote.html",
        paper_language=paper_language(view),
        view=view,
        paper=paper,
        # a quote that was accepted is not put to anybody again
        asking=asks_again(view, paper),
        agreed=agreed(view),
        figure=figure,
        terms=terms,
        leaving=leaving(view),
    )


@api.get("/jobs/{number}/quote")
def quote(workshop: WorkshopDep, number: JobNumber, repairs: Repairs, terms: Asked) -> QuotePaper:
    """The quote for the customer, passage by passage; sums are in minor units.

    Not found (404) where there is no such job, a fault (422) names the field.
    """
    return quote_paper(job_view(workshop, number), repairs, terms)


@pages.get("/jobs/{number}/quote.pdf", include_in_schema=False)
def quote_file(
    request: Request, workshop: WorkshopDep, number: JobNumber, repairs: Repairs, terms: Asked
) -> Response:
    """Send the quote as PDF, in the customer's language. Raises NotFoundError, InputError."""
    # inline: a phone shows it to the customer at once, and offers to print.
    named = {"content-disposition": f'inline; filename="quote-{number}.pdf"'}
    view = job_view(workshop, number)
    with tongue.reading(reads(request, paper_language(view))):
        document = quote_pdf(quote_paper(view, repairs, terms))
    return Response(document, media_type="application/pdf", headers=named)


@pages.post("/jobs/{number}/quote", include_in_schema=False)
def answer_page(
    request: Request, workshop: WorkshopDep, number: JobNumber, form: Posted
) -> Response:
    """Put the customer's answer down.

    Raises NotFoundError, InputError, ConflictError where the quote has another price by now.
    """
    sent = parse(
        QuoteAnswerIn,
        answer=form.text("answer"),
        agreed_by=form.text("agreed_by"),
        price_minor=form.whole("price_minor"),
        repairs=form.texts("repair"),
        # As the quote's own links say it, so that what is agreed is what was shown.
        used=form.text("used") == "true",
        discounts=form.texts("discount"),
        charged=form.text("charged") == "true",
        photos=kept_photos(workshop, number, form),
        safeguard=form.text("safeguard"),
        parts=chosen_kinds(form.texts("part")),
        **form.sender(),
    )
    # the page says in which language it was read, for it may have been asked for in another
    shown = tongue.known(form.text("language")) or reads(request)
    _put_down(workshop, number, sent, shown)
    return redirect(f"/jobs/{number}", sent.by)


@api.post("/jobs/{number}/quote", status_code=201)
def answer(workshop: WorkshopDep, number: JobNumber, sent: QuoteAnswerIn) -> Recorded:
    """Put the customer's answer down: accepted or declined, by whom, at which price (minor units).

    Conflict (409) where the quote has another price by now or the job has moved on.
    """
    return recorded(workshop, number, _put_down(workshop, number, sent))
