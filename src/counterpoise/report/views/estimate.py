"""The estimate of a job as page, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterpoise.money.estimate import Estimate
from counterpoise.money.order import Quality
from counterpoise.money.part_offers import QUALITIES, Offer
from counterpoise.report.views.job import JobView
from counterpoise.report.words import numbers as words
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.diagnosis.family_model import fits
from counterpoise.workshop.diagnosis.part_texts import provenance, shelf_note
from counterpoise.workshop.parts.offers import PartChoice


@dataclass(frozen=True, slots=True)
class EstimateWork:
    """A repair that can be estimated: done already, among those estimated here."""

    id: str
    title: str
    done: bool
    chosen: bool


@dataclass(frozen=True, slots=True)
class EstimateAnswer:
    """What the work on a job costs. ``works``: chance that the machine is right afterwards.

    ``charged``: a customer is to pay it; otherwise it is what the work costs the workshop. ``own_minor``: what it costs
    the workshop in any case, bench time and parts; ``free``: it is mended under the guarantee.
    """

    number: int
    last: int
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


@dataclass(frozen=True, slots=True)
class PartSource:
    """A way to get a part: what ``count`` of it cost before mark-up and tax, and where that price is from.

    ``lot``: the pieces on the shelf it is; ``allowed``: it goes in without asking.
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
    """A part the work needs, and the ways to get it: the best of each kind. ``note``: what is said of the shelf."""

    part: str
    title: str
    count: int
    ways: tuple[PartSource, ...]
    note: str
    reserved: int
    taken: int


def estimate_answer(
    view: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL
) -> EstimateAnswer:
    """The estimate of a job. Raises InputError for a repair that is not known or does not fit."""
    found = view.snapshot.costing(repairs, terms)
    chosen = {entry.id for entry in found.repairs}
    others = [
        entry
        for entry in view.family.repairs.values()
        if entry.id not in chosen and fits(entry.needs, view.job.intake.features)
    ]
    return EstimateAnswer(
        number=view.job.number,
        last=view.last,
        charged=view.job.intake.owner == "customer",
        work=tuple(EstimateWork(r.id, r.title, r.id in found.done, True) for r in found.repairs),
        others=tuple(EstimateWork(r.id, r.title, r.id in found.done, False) for r in others),
        works=found.works,
        used_parts=terms.used,
        discounts=terms.discounts,
        free=found.free,
        own_minor=found.own.net_minor,
        estimate=found.estimate,
        parts=tuple(_ways(view, key, *needed) for key, needed in found.needed.items()),
    )


def _ways(view: JobView, key: str, count: int, chosen: Offer) -> PartSources:
    part, choice = view.family.parts[key], PartChoice(view.supply)
    offers = [offer for kind in QUALITIES for offer in choice.of_kind(part, count, kind)[:1]]
    if chosen not in offers:
        offers = [chosen, *(offer for offer in offers if offer.quality != chosen.quality)]
    ways = tuple(
        PartSource(o.quality, o.total_minor(count), provenance(o), o.lead_days, o.lot, o == chosen,
            o.quality in view.supply.allowed)
        for o in offers
    )  # fmt: skip
    taken = sum(offer.count or 0 for offer in view.supply.taken.get(key, ()))
    note = "" if taken >= count else shelf_note(view.family, part, count, view.supply)
    return PartSources(key, part.title, count, ways, note, view.supply.held.get(key, 0), taken)


def quantity(value: float, unit: str) -> str:
    """How much a line is of: minutes, pieces, or nothing for a lump."""
    if unit == "min":
        return words.minutes(value)
    return f"{value:g} {'piece' if value == 1 else 'pieces'}" if unit == "pc" else ""
