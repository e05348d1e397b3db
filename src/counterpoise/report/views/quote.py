"""A quote as page, paper, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from counterpoise.errors import ConflictError
from counterpoise.money.quote import Quote
from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers as words
from counterpoise.report.words.entry_lines import TAKEN
from counterpoise.workshop.billing.costing import AS_USUAL, Costing, Terms
from counterpoise.workshop.billing.quote import answered, fee_minor, quote_of
from counterpoise.workshop.jobs.entries import Decision
from counterpoise.workshop.services.stock import reserve_work
from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Passage:
    """A heading and what is said under it."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuotePaper:
    """All that a quote says. ``repairs`` are the ids of the work it is for; ``answer`` what the customer said, if so.

    Amounts in minor units of ``currency``; ``fee_minor`` is owed where the customer says no. ``advice`` is for the
    workshop's eyes: what to do before this is handed over.
    """

    workshop: str
    number: int
    last: int
    title: str
    owner: str
    passages: tuple[Passage, ...]
    valid: str
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
    free: bool
    kinds: dict[str, str]
    answer: str
    advice: str


def quoted(seen: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL) -> QuotePaper:
    """The quote for the repairs named, else for what the bench advises. Raises InputError where there is none."""
    found = seen.snapshot.costing(repairs, terms)
    told, fee = (
        quote_of(seen.family, seen.settings, seen.job, seen.assessment, found),
        fee_minor(found),
    )
    intake, step = seen.job.intake, seen.assessment.next
    return QuotePaper(
        workshop=seen.settings.workshop_name,
        number=seen.job.number,
        last=seen.last,
        title=" ".join(part for part in (intake.maker, intake.model) if part) or seen.family.title,
        owner=intake.contact,
        passages=_passages(told),
        valid=told.valid,
        price=words.money(told.price_minor, told.currency),
        ceiling=words.money(told.ceiling_minor, told.currency),
        fee=words.money(fee, told.currency),
        price_minor=told.price_minor,
        ceiling_minor=told.ceiling_minor,
        fee_minor=fee,
        currency=told.currency,
        repairs=tuple(entry.id for entry in found.repairs),
        used_parts=terms.used,
        discounts=terms.discounts,
        free=found.free,
        kinds=dict(terms.kinds),
        answer=_answer(seen),
        advice=step.title if step and step.kind == "check" else "",
    )


@dataclass(frozen=True, slots=True)
class Reply:
    """What a customer said to the quote of ``price_minor`` for this work on these terms; ``photos`` of the paper."""

    option: str
    agreed_by: str
    price_minor: int
    repairs: tuple[str, ...]
    terms: Terms = AS_USUAL
    photos: tuple[str, ...] = ()


def answer_to(seen: JobView, said: Reply) -> tuple[Decision, Costing]:
    """The customer's answer as evidence, and the work it is for. Raises ConflictError where the price changed."""
    paper, found = (
        quoted(seen, said.repairs, said.terms),
        seen.snapshot.costing(said.repairs, said.terms),
    )
    price_minor = said.price_minor
    if paper.price_minor != price_minor:
        raise ConflictError(
            f"The quote was {words.money(price_minor, paper.currency)}, now it is {paper.price}."
            " Look at the quote again, then put the answer down."
        )
    told = tuple(f"{passage.title}: {' '.join(passage.sentences)}" for passage in paper.passages)
    body = answered(found, said.option, said.agreed_by)
    return replace(body, told=(*told, paper.valid), photos=said.photos), found


def put_answer(
    workshop: Workshop, seen: JobView, said: Reply, by: str, expected_last: int | None
) -> int:
    """Put the answer down and return its entry; what was agreed to and lies on the shelf is reserved for the job."""
    body, found = answer_to(seen, said)
    entry = workshop.jobs.record(seen.job.number, body, by=by, expected_last=expected_last)
    if body.option in TAKEN:
        reserve_work(workshop, seen.job.number, found, by)
    return entry.number


def _passages(told: Quote) -> tuple[Passage, ...]:
    passages = (
        Passage("What is wrong", (*told.wrong, told.sure)),
        Passage("What we would do", tuple(f"{work}." for work in told.work)),
        Passage("What it costs", (*told.cost, *told.at_most)),
        Passage("If it turns out worse", told.worse),
        Passage("Is it worth it", told.worth),
        Passage("The other ways", told.alternatives),
        Passage("Our guarantee", told.guarantee),
    )
    return tuple(passage for passage in passages if passage.sentences)


def _answer(seen: JobView) -> str:
    decision = seen.job.decision
    if decision is None or decision.quoted_minor is None:
        return ""
    line = next(
        line for line in reversed(seen.lines) if line.kind == "Decision" and not line.retracted
    )
    return (
        line.result[:1].upper() + line.result[1:]
        if decision.option in TAKEN
        else f"{line.what}: {line.result}"
    )
