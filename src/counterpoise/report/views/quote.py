"""A quote as page, paper, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers
from counterpoise.report.words.entry_lines import TAKEN
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.services.quote_answers import Passage, quote_job


@dataclass(frozen=True, slots=True)
class QuotePaper:
    """All that a quote says, amounts in words and in minor units of ``currency``.

    ``repairs`` are the ids of the work it is for, ``kinds`` of parts by id; ``fee_minor`` is owed
    where the customer says no; ``answer`` is what the customer said, empty before that. ``advice``
    is for the workshop's eyes: what to do before this is handed over; ``heading`` says whether it
    is a quote or a first estimate.
    """

    workshop: str
    number: int
    last: int
    title: str
    owner: str
    passages: tuple[Passage, ...]
    valid: str
    # in words for paper and page, in minor units for programs: one amount, two forms
    price: str
    ceiling: str
    fee: str
    price_minor: int
    ceiling_minor: int
    fee_minor: int
    currency: str
    repairs: tuple[str, ...]
    used_parts: bool
    discounts: tuple[str, ...]
    # mended under the guarantee: no price, no ceiling, no fee
    free: bool
    kinds: dict[str, str]
    # what was said stands on every later copy of the quote
    answer: str
    advice: str
    heading: str = "Quote"


def quote_paper(view: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL) -> QuotePaper:
    """The quote for the repairs named, else for the work advised.

    Raises InputError where there is nothing to quote.
    """
    quoted = quote_job(view.snapshot, repairs, terms)
    quote, costing = quoted.quote, quoted.costing
    # the customer knows the machine by its plate, not by the title of the job
    intake, step = view.job.intake, view.assessment.next
    return QuotePaper(
        workshop=view.settings.workshop_name,
        number=view.job.number,
        last=view.last,
        title=" ".join(part for part in (intake.maker, intake.model) if part) or view.family.title,
        owner=intake.contact,
        passages=(*_not_known(costing), *quoted.passages),
        valid=quote.valid,
        price=numbers.money(quote.price_minor, quote.currency),
        ceiling=numbers.money(quote.ceiling_minor, quote.currency),
        fee=numbers.money(quoted.fee_minor, quote.currency),
        price_minor=quote.price_minor,
        ceiling_minor=quote.ceiling_minor,
        fee_minor=quoted.fee_minor,
        currency=quote.currency,
        repairs=tuple(entry.id for entry in costing.repairs),
        used_parts=terms.used,
        discounts=terms.discounts,
        free=costing.free,
        kinds=dict(terms.kinds),
        answer=_answer(view),
        heading="First estimate" if quote.first else "Quote",
        # one more check that pays comes before a price is promised
        advice=step.title if step and step.kind == "check" else "",
    )


def _not_known(costing: Costing) -> tuple[Passage, ...]:
    """What the price rests on and nobody has looked at; first, since all else hangs on it."""
    texts = tuple(doubt.text for doubt in costing.unsettled)
    return (Passage("Not known yet", texts),) if texts else ()


def _answer(view: JobView) -> str:
    decision = view.job.decision
    if decision is None or decision.quoted_minor is None:
        return ""
    # the line says it in the words of the job's own history
    line = next(
        line for line in reversed(view.lines) if line.kind == "Decision" and not line.retracted
    )
    if decision.option in TAKEN:
        return line.result[:1].upper() + line.result[1:]
    return f"{line.what}: {line.result}"
