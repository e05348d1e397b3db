"""The quote of a job, and the customer's answer to it put down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from counterpoise.errors import ConflictError
from counterpoise.money.amount import show
from counterpoise.money.quote_case import Quote
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.quote import (
    ACCEPTED,
    answered,
    fee_minor,
    quote_of,
    with_full_stop,
)
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.jobs.choices import Safeguard
from counterpoise.workshop.jobs.entries import Decision
from counterpoise.workshop.services.snapshot import JobSnapshot

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading and what is said under it."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobQuote:
    """A quote in sentences and the costing it is made of; ``fee_minor`` is owed after a no."""

    quote: Quote
    costing: Costing
    fee_minor: int

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The quote as headings with their sentences; a heading with empty text is left out."""
        quote = self.quote
        passages = (
            Passage("First estimate", quote.first),
            Passage("What is wrong", (*quote.wrong, quote.sure)),
            Passage("What we would do", tuple(map(with_full_stop, quote.work))),
            Passage("What it costs", (*quote.cost, *quote.at_most)),
            Passage("If it turns out worse", quote.worse),
            Passage("Is it worth it", quote.worth),
            Passage("The other ways", quote.alternatives),
            Passage("If it is not repaired", quote.leaving),
            Passage("Our guarantee", quote.guarantee),
        )
        return tuple(passage for passage in passages if passage.sentences)


@dataclass(frozen=True, slots=True)
class QuoteReply:
    """What a customer said to the quote of ``price_minor`` for this work on these terms.

    ``option`` is the ending chosen, ``agreed_by`` who said it; ``photos`` are of the signed paper.
    """

    option: str
    agreed_by: str
    price_minor: int
    repairs: tuple[str, ...]
    # the terms the customer saw: a discount is part of the price agreed
    terms: Terms = AS_USUAL
    photos: tuple[str, ...] = ()
    # how a machine that must not be used is handed on unrepaired
    safeguard: Safeguard = ""
    # puts a text into the language in which the quote was read
    in_words: Callable[[str], str] = str


def quote_job(
    snapshot: JobSnapshot, repairs: Sequence[str] = (), terms: Terms = AS_USUAL
) -> JobQuote:
    """Quote the repairs named, else the work advised.

    Raises InputError where nothing can be quoted.
    """
    costing = snapshot.costing(repairs, terms)
    # of the same costing as the fee, so that both speak of one price
    quote = quote_of(snapshot, snapshot.assessment, costing)
    return JobQuote(quote, costing, fee_minor(costing))


def decision_for(snapshot: JobSnapshot, reply: QuoteReply) -> tuple[Decision, Costing]:
    """The customer's answer as an entry, and the work it is for.

    Raises ConflictError where the quote has another price by now, InputError for another option.
    """
    # computed anew: what the form sent is a claim, not a price
    quoted = quote_job(snapshot, reply.repairs, reply.terms)
    price_minor, currency = quoted.quote.price_minor, quoted.quote.currency
    # a list or the shelf may have moved while the customer thought it over
    if price_minor != reply.price_minor:
        raise ConflictError(
            f"The quote was {show(reply.price_minor, currency)}, now it is"
            f" {show(price_minor, currency)}."
            " Look at the quote again, then put the answer down."
        )
    # the entry keeps the very words that the customer read: catalog and settings may change
    say = reply.in_words
    read = tuple(f"{say(p.title)}: {' '.join(map(say, p.sentences))}" for p in quoted.passages)
    decision = answered(quoted.costing, reply.option, reply.agreed_by)
    words = (*read, say(quoted.quote.valid))
    decision = replace(decision, quote_words=words, photos=reply.photos, safeguard=reply.safeguard)
    return decision, quoted.costing


def record_answer(
    workshop: Workshop,
    snapshot: JobSnapshot,
    reply: QuoteReply,
    by: str,
    expected_last: int | None = None,
) -> int:
    """Put a customer's answer down; returns the number of its entry.

    What was agreed to and lies on the shelf is reserved for the job. Raises ConflictError where the
    price changed or somebody wrote in between, InputError.
    """
    decision, costing = decision_for(snapshot, reply)
    number = snapshot.job.number
    # first the answer, then the shelf: a refused answer must reserve nothing
    entry = workshop.jobs.record(number, decision, by=by, expected_last=expected_last)
    # a no leaves the shelf to other jobs
    if decision.option == ACCEPTED:
        workshop.stock.reserve(number, costing, by)
    return entry.number
