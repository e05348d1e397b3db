"""What the work on a job costs: repairs as tasks, panels and parts, handed to the money room.

What the checks have opened already is not charged again, and a panel that two repairs share is
charged once. The spin that proves the work is labour like any other. What is mended under the
guarantee is shown and costs nothing. Faults that the work does not cover are what may turn out
worse; those that end a machine are not: there one stops and asks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from counterpoise.catalog.family import Family, RepairEntry
from counterpoise.money.estimate import Estimate, estimate, needed_parts
from counterpoise.money.order import Charges, Order, Part, Task
from counterpoise.money.part_offers import Offer
from counterpoise.money.quote_case import Doubts
from counterpoise.workshop.billing.charges import charges_of, with_discounts
from counterpoise.workshop.billing.doubts import doubts_of
from counterpoise.workshop.billing.job_order import order_of
from counterpoise.workshop.billing.terms import AS_USUAL, Terms
from counterpoise.workshop.billing.unsettled import Unsettled, unsettled
from counterpoise.workshop.billing.work import advised_work, done_minutes, named_work
from counterpoise.workshop.diagnosis.family_model import works_under
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.part_texts import provenance
from counterpoise.workshop.jobs.comeback import guaranteed
from counterpoise.workshop.parts.offers import PartChoice, bare_parts


@dataclass(frozen=True)
class Costing:
    """Work on a job and what it costs. ``works``: chance that the machine is right afterwards.

    ``done``: ids of the repairs done already. ``own``: what the same work costs the workshop, bench
    time and parts. ``free``: it is done under the guarantee. ``needed``: how many of each part, and
    the offer reckoned with. ``unsettled``: what the work needs of the machine and nobody knows.
    ``doubts``: why the machine may not be right afterwards.
    """

    repairs: tuple[RepairEntry, ...]
    done: frozenset[str]
    works: float
    order: Order
    charges: Charges
    estimate: Estimate
    own: Estimate
    free: bool = False
    needed: Mapping[str, tuple[int, Offer]] = field(default_factory=dict)
    unsettled: tuple[Unsettled, ...] = ()
    doubts: Doubts = field(default_factory=Doubts)


def estimate_of(case: JobCase, repairs: Sequence[str] | None = None) -> Estimate:
    """Estimate these repairs; without them, those done and those for the leading suspects.

    Raises InputError.
    """
    return cost(case, repairs).estimate


def cost(
    case: JobCase,
    repairs: Sequence[str] | None = None,
    *,
    advised: str = "",
    terms: Terms = AS_USUAL,
) -> Costing:
    """Cost the repairs named, else those :func:`advised_work` chooses.

    ``advised``: id of the repair that the plan has come to. Raises InputError, also for the terms.
    """
    situation, settings, family = case.situation, case.settings, case.family
    work = named_work(situation, repairs) if repairs else advised_work(case, advised)
    done = frozenset(done_minutes(case))
    # free under the guarantee, unless something else is wrong and it is agreed to charge
    free = not terms.charged and guaranteed(case.job, settings)
    order = order_of(case, work)
    needed = chosen_offers(family, order.tasks, terms.choice(family, case.supply))
    # a call-out is the customer's: to the workshop it is no cost of the work
    own_order = replace(_at_offers(order, needed, own=True), away=False)
    order, own_charges = _at_offers(order, needed), charges_of(settings, "workshop")
    charges = with_discounts(charges_of(settings, situation.intake.owner), terms.discounts)
    # what was done is in the belief already: counting it again would cure twice
    still_to_do = [entry for entry in work if entry.id not in done]
    by_kind = works_under(situation.model, situation.kinds, still_to_do)
    works = float((situation.joint * by_kind).sum())
    return Costing(
        repairs=work,
        done=done,
        # rounding may sum a hair above 1
        works=min(1.0, works),
        order=order,
        charges=charges,
        estimate=estimate(replace(order, free=free), charges),
        own=estimate(own_order, own_charges),
        free=free,
        needed=needed,
        unsettled=unsettled(situation, settings, still_to_do),
        doubts=doubts_of(situation, still_to_do, by_kind),
    )


def chosen_offers(
    family: Family, tasks: Sequence[Task], choice: PartChoice
) -> dict[str, tuple[int, Offer]]:
    """By part id, how many these tasks need, and the offer reckoned with."""
    # counted over all tasks together, since one part may serve two repairs
    wanted = needed_parts(tasks, bare_parts(family))
    return {key: (count, choice.offer(family.parts[key], count)) for key, count in wanted.items()}


def _at_offers(
    order: Order, needed: Mapping[str, tuple[int, Offer]], *, own: bool = False
) -> Order:
    """The order with its parts at the offers; ``own``: at what they cost the workshop."""
    # to a customer a used part is its asking price, to the workshop what it gave for it
    offers = {key: offer.to_the_workshop if own else offer for key, (_, offer) in needed.items()}
    parts = tuple(
        _at_offer(part, offers[part.id]) if part.id in offers else part for part in order.parts
    )
    return replace(
        order, parts=parts, quality={key: offer.quality for key, offer in offers.items()}
    )


def _at_offer(part: Part, offer: Offer) -> Part:
    # a supplier may sell a part in packs of its own, whatever the catalog says
    priced = replace(part, set_of=offer.pack, notes={offer.quality: provenance(offer)})
    # the price goes where the money room looks for it by the quality chosen
    if offer.quality == "new":
        return replace(priced, new_minor=offer.each_minor)
    if offer.quality == "used":
        return replace(priced, used_minor=offer.each_minor)
    return replace(priced, pattern_minor=offer.each_minor)
