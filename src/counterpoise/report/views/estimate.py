"""The estimate of a job as page, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from counterpoise.catalog.family import RepairEntry
from counterpoise.money.estimate import Estimate
from counterpoise.money.order import Quality
from counterpoise.money.part_offers import QUALITIES, Offer
from counterpoise.money.quote import doubt_text
from counterpoise.money.quote_case import Doubts
from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers
from counterpoise.workshop.billing.costing import Costing
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.billing.unsettled import Unsettled
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.part_sets import allowed_by_set
from counterpoise.workshop.diagnosis.part_texts import provenance, shelf_note
from counterpoise.workshop.parts.offers import PartChoice


@dataclass(frozen=True, slots=True)
class EstimateWork:
    """A repair that can be estimated: done already, among those estimated here."""

    # goes back to be estimated: a link on the page, an argument in the terminal
    id: str
    title: str
    done: bool
    chosen: bool


@dataclass(frozen=True, slots=True)
class EstimateAnswer:
    """What the work on a job costs. ``works``: probability that the machine is right afterwards.

    ``charged``: a customer is to pay it; otherwise it is what the work costs the workshop.
    ``own_minor`` is what it costs the workshop in any case, bench time and parts, in minor units;
    ``free``: it is mended under the guarantee. ``unsettled``: what the work needs of the machine
    and nobody knows. ``doubts`` says why the machine may not be right afterwards, ``doubt``
    the same in a sentence. ``last`` goes back as ``expected_last``.
    """

    number: int
    last: int
    # decides the words: what the customer is to pay, or what it costs
    charged: bool
    work: tuple[EstimateWork, ...]
    others: tuple[EstimateWork, ...]
    works: float
    used_parts: bool
    discounts: tuple[str, ...]
    free: bool
    own_minor: int
    estimate: Estimate
    parts: tuple[PartSources, ...] = ()
    unsettled: tuple[Unsettled, ...] = ()
    doubts: Doubts = field(default_factory=Doubts)
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class PartSource:
    """A way to get a part: what the pieces needed cost before mark-up and tax, in minor units.

    ``source`` says where the price is from; ``lead_days`` None where nobody said; ``lot`` is that
    on the shelf, None where it is bought; ``allowed``: it goes in without asking.
    """

    kind: Quality
    cost_minor: int
    source: str
    lead_days: int | None
    lot: int | None
    chosen: bool
    allowed: bool


@dataclass(frozen=True, slots=True)
class PartSources:
    """A part the work needs, and the ways to get it: the best of each kind.

    ``note`` is what is said of the shelf, empty where the pieces were taken already; ``reserved``
    and ``taken`` are pieces for this job.
    """

    part: str
    title: str
    count: int
    ways: tuple[PartSource, ...]
    # pieces that are there but not certain to fit or to be good
    note: str
    reserved: int
    taken: int


def estimate_answer(
    view: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL
) -> EstimateAnswer:
    """The estimate of the repairs named, else of the work done and advised.

    Raises InputError for a repair that is not known or does not fit.
    """
    costing = view.snapshot.costing(repairs, terms)
    # what is estimated already is not offered once more
    chosen = {repair.id for repair in costing.repairs}
    others = [
        repair
        for repair in view.family.repairs.values()
        if repair.id not in chosen
        and fits(repair.needs, view.situation.known)
        # one piece of a set that means the set would come back as the set
        and allowed_by_set(view.situation, repair)
    ]
    return EstimateAnswer(
        number=view.job.number,
        last=view.last,
        # the workshop's own machine has a cost and no customer
        charged=view.job.intake.owner == "customer",
        work=tuple(_work(repair, costing, chosen=True) for repair in costing.repairs),
        others=tuple(_work(repair, costing, chosen=False) for repair in others),
        works=costing.works,
        used_parts=terms.used,
        discounts=terms.discounts,
        free=costing.free,
        own_minor=costing.own.net_minor,
        estimate=costing.estimate,
        parts=tuple(_sources(view, key, *needed) for key, needed in costing.needed.items()),
        unsettled=costing.unsettled,
        doubts=costing.doubts,
        doubt=doubt_text(costing.doubts),
    )


def _work(repair: RepairEntry, costing: Costing, *, chosen: bool) -> EstimateWork:
    return EstimateWork(repair.id, repair.title, repair.id in costing.done, chosen)


def _sources(view: JobView, key: str, count: int, chosen: Offer) -> PartSources:
    part, choice = view.family.parts[key], PartChoice(view.supply)
    # new, pattern, used: the order in which they are offered everywhere
    offers = [offer for kind in QUALITIES for offer in choice.of_kind(part, count, kind)[:1]]
    # what was agreed stays shown, although another of its kind has become cheaper since
    if chosen not in offers:
        offers = [chosen, *(offer for offer in offers if offer.quality != chosen.quality)]
    ways = tuple(
        PartSource(
            kind=offer.quality,
            cost_minor=offer.total_minor(count),
            source=provenance(offer),
            lead_days=offer.lead_days,
            lot=offer.lot,
            chosen=offer == chosen,
            allowed=offer.quality in view.supply.allowed,
        )
        for offer in offers
    )
    taken = sum(offer.count or 0 for offer in view.supply.taken.get(key, ()))
    # a part that was taken off the shelf already needs no more words about the shelf
    note = "" if taken >= count else shelf_note(view.family, part, count, view.supply)
    return PartSources(key, part.title, count, ways, note, view.supply.held.get(key, 0), taken)


def quantity(value: float, unit: str) -> str:
    """How much a line is of, in minutes or pieces; empty for a lump sum."""
    if unit == "min":
        return numbers.minutes(value)
    return f"{value:g} {'piece' if value == 1 else 'pieces'}" if unit == "pc" else ""
