"""A quote as page, paper, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from counterpoise.money.estimate import Estimate
from counterpoise.report.drawings.pictures import work_machine
from counterpoise.report.figures.money_axis import Amount, money_axis
from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers
from counterpoise.report.words.entry_lines import TAKEN
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.services.quote_answers import Passage, quote_job

# kinds of the lines of an estimate, as a customer would sort them
_SHARES: dict[str, tuple[str, ...]] = {
    "Finding the fault, and work": ("diagnosis", "access", "labour", "steps"),
    "Parts and small material": ("part", "consumables"),
    "Coming to your place": ("callout",),
    "Taken off": ("discount", "guarantee"),
}


@dataclass(frozen=True, slots=True)
class PriceShare:
    """What a share of the price is for, in words, and its minor units before tax."""

    title: str
    minor: int


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
    # what the price is made of, tax last; empty where nothing is charged
    made_of: tuple[PriceShare, ...] = ()
    # the machine with the places of the work (SVG)
    drawing: str = ""


@dataclass(frozen=True, slots=True)
class Agreed:
    """What a customer agreed to pay: price and ceiling (or empty) in words, by whom (or empty).

    ``work`` are the titles of the repairs it is for; empty where it was agreed without a quote.
    """

    price: str
    ceiling: str
    by: str
    work: tuple[str, ...]
    repairs: tuple[str, ...]
    ceiling_minor: int | None


def agreed(view: JobView) -> Agreed | None:
    """What was agreed for the repair; None where nothing was, or the answer was no."""
    decision = view.job.decision
    if decision is None or decision.option not in TAKEN or decision.agreed_minor is None:
        return None
    ceiling, known = decision.ceiling_minor, view.family.repairs
    return Agreed(
        price=numbers.money(decision.agreed_minor, view.currency),
        ceiling="" if ceiling is None else numbers.money(ceiling, view.currency),
        by=decision.agreed_by,
        # a repair that the family no longer has keeps its id
        work=tuple(known[key].title if key in known else key for key in decision.repairs),
        repairs=decision.repairs,
        ceiling_minor=ceiling,
    )


def asks_again(view: JobView, paper: QuotePaper) -> bool:
    """Whether a quote is to be answered: no accepted one covers this work at this price."""
    # agreed by word of mouth without a quote is no reason not to quote
    done = agreed(view)
    if done is None or done.ceiling_minor is None:
        return True
    # other work was never agreed to, and above the ceiling one asks before going on
    return not set(paper.repairs) <= set(done.repairs) or paper.price_minor > done.ceiling_minor


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
        made_of=() if costing.free else _made_of(costing.estimate),
        drawing=str(work_machine(view.family, view.job, [entry.id for entry in costing.repairs])),
    )


def _made_of(estimate: Estimate) -> tuple[PriceShare, ...]:
    """The price by what it is for, and the tax; shares of nothing are left out."""
    shares = [
        PriceShare(title, sum(line.net_minor for line in estimate.lines if line.kind in kinds))
        for title, kinds in _SHARES.items()
    ]
    # last: it is on all of the others
    shares.append(PriceShare("Tax", estimate.tax_minor))
    return tuple(share for share in shares if share.minor)


def price_figure(paper: QuotePaper) -> Markup:
    """The shares of the price as bars from nought; empty where nothing is charged."""
    shares = [
        Amount(share.title, share.minor, min(0, share.minor), max(0, share.minor))
        for share in paper.made_of
    ]
    return money_axis(shares, paper.currency, exact=True)


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
