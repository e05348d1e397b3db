"""What a guarantee costs: how often a repair comes back, and what mending it again takes.

A repair is handed over where the spin ran true. It comes back where the spin missed what the repair
did not cure, or a fault beside it. How often, the catalog foretells; the workshop's own closed jobs
move that figure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import Family, RepairEntry
from counterpoise.learning.shares import Share
from counterpoise.money.estimate import estimate
from counterpoise.money.guarantee import Cover
from counterpoise.reasoning.belief import repaired
from counterpoise.workshop.billing.charges import charges_of
from counterpoise.workshop.billing.job_order import order_for
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.diagnosis.kinds.joint_prior import prior_belief
from counterpoise.workshop.jobs.comeback import GUARANTEED, closings
from counterpoise.workshop.jobs.entries import Closed, Job, RepairDone
from counterpoise.workshop.jobs.family_money import money_of
from counterpoise.workshop.jobs.settings import Settings

# Months for which a guarantee is told; any other can be asked for by its price.
MONTHS = (3, 6, 12, 24)
TRUSTED = 20.0  # jobs of one's own that weigh as much as the catalog's figure (from memory)
# A share believed to be exactly 0 or 1 could never be moved by what is counted.
_LEAST_SHARE = 1e-6


@dataclass(frozen=True, slots=True)
class GuaranteeTerms:
    """A guarantee on one repair, or (``repair`` empty) on the whole machine, at an age.

    ``returns``: chance that the repair ever proves not to have held. ``again_minor``: what one
    comeback costs. ``cost_minor`` and ``price_minor``: expected cost, and the price to ask, for
    each of ``months``. ``longest_months``: the longest for the price asked about, None without one.
    ``jobs`` and ``comebacks`` are the workshop's own, which moved the chance.
    """

    repair: str
    title: str
    age_years: float
    returns: float
    again_minor: int
    months: tuple[int, ...]
    cost_minor: tuple[int, ...]
    price_minor: tuple[int, ...]
    longest_months: int | None
    jobs: int
    comebacks: int


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Machines handed over with a repair as the last one, and how many of them came back."""

    jobs: int = 0
    comebacks: int = 0


def guarantee_terms(
    family: Family,
    settings: Settings,
    age_years: float,
    jobs: Iterable[Job] = (),
    price_minor: int | None = None,
) -> tuple[GuaranteeTerms, ...]:
    """Every repair of a family, the surest to hold first.

    ``price_minor``: what the customer would pay for it. ``jobs``: the workshop's own.
    """
    # all jobs are read once, not once for each repair
    counts = handed_over(family, jobs)
    rows = [
        _repair_terms(
            family, settings, entry, age_years, counts.get(entry.id, HandedOver()), price_minor
        )
        for entry in family.repairs.values()
    ]
    # by title where two hold alike, so that the list is the same each time
    return tuple(sorted(rows, key=lambda row: (row.returns, row.title)))


def whole_machine(
    family: Family, settings: Settings, age_years: float, price_minor: int | None = None
) -> GuaranteeTerms:
    """A guarantee on whatever fails, an hour of work each, at ``age_years``.

    By the family's law of lives: a lower bound, since failures that are mended are not in it.
    """
    money = money_of(family, settings)
    # whatever fails is not known beforehand: an hour of bench time stands for it
    again = money.comeback_minor + settings.bench_rate_minor
    cover = Cover(
        0.0,
        again,
        life=money.life,
        age_years=age_years,
        margin_percent=settings.guarantee_margin_percent,
    )
    # no repair: it is the machine that is covered
    named = ("", "Whatever fails, an hour of work each")
    return _terms(cover, named, HandedOver(), price_minor, age_years)


def cover_of(family: Family, settings: Settings, returns: float, own_minor: int) -> Cover:
    """A guarantee on a repair that comes back with probability ``returns``.

    Then the same work is done again at its own cost, ``own_minor``, beside what a comeback costs.
    """
    # a comeback costs the way and the good name beside the work
    again = money_of(family, settings).comeback_minor + own_minor
    return Cover(min(1.0, returns), again, margin_percent=settings.guarantee_margin_percent)


def catalog_returns(family: Family, entry: RepairEntry, age_years: float) -> float:
    """Share of a repair that comes back by the catalog, at ``age_years``.

    Over machines with something for it to cure; 1 where there is no such machine.
    """
    model = family_model(family)
    transition = model.transitions[entry.id]
    sets = len(model.hypotheses.sets)
    # one picks this repair where it does something, so a machine counts as far as it would
    cured = np.bincount(transition.source, weights=transition.chance, minlength=sets)
    belief = np.exp(prior_belief(model, age_years, entry.needs)) * np.clip(cured, 0.0, 1.0)
    if belief.sum() <= 0:
        return 1.0
    # what the repair leaves, before the spin: set 0 is the machine it cured
    after = repaired(belief / belief.sum(), transition)
    return model.proof.fault_left(works=float(after[0]))


def handed_over(family: Family, jobs: Iterable[Job]) -> Mapping[str, HandedOver]:
    """By repair, the workshop's own machines of this family that were handed over with it."""
    counts: dict[str, HandedOver] = {}
    for job in jobs:
        # a repair of the same name in another family is another repair
        if job.intake.family != family.id:
            continue
        # a closing that a comeback took back no longer stands, and counts as one that came back
        standing = {entry.number for entry in job.standing}
        for closing in closings(job):
            done = [
                entry.body.repair
                for entry in job.standing
                if entry.number < closing.number and isinstance(entry.body, RepairDone)
            ]
            body = closing.body
            if isinstance(body, Closed) and body.ending in GUARANTEED and done:
                # the last repair is the one that made the spin run true
                count = counts.get(done[-1], HandedOver())
                came_back = closing.number not in standing
                counts[done[-1]] = HandedOver(count.jobs + 1, count.comebacks + came_back)
    return counts


def _repair_terms(
    family: Family,
    settings: Settings,
    entry: RepairEntry,
    age_years: float,
    count: HandedOver,
    price_minor: int | None,
) -> GuaranteeTerms:
    # mended again at the workshop's own cost: no mark-up, no tax
    own = estimate(order_for(family, [entry]), charges_of(settings, "workshop")).net_minor
    catalog = catalog_returns(family, entry, age_years)
    believed = min(max(catalog, _LEAST_SHARE), 1.0 - _LEAST_SHARE)
    # the catalog's figure counts as twenty jobs, the workshop's own one each
    share = Share.believed(believed, TRUSTED).updated(count.comebacks, count.jobs - count.comebacks)
    cover = cover_of(family, settings, share.mean, own)
    return _terms(cover, (entry.id, entry.title), count, price_minor, age_years)


def _terms(
    cover: Cover,
    named: tuple[str, str],
    count: HandedOver,
    price_minor: int | None,
    age_years: float,
) -> GuaranteeTerms:
    """A cover with the repair's id and title as it is told."""
    return GuaranteeTerms(
        *named,
        age_years=age_years,
        returns=cover.returns,
        again_minor=round(cover.comeback_minor),
        months=MONTHS,
        cost_minor=tuple(round(cover.cost_minor(months)) for months in MONTHS),
        price_minor=tuple(cover.price_minor(months) for months in MONTHS),
        longest_months=None if price_minor is None else cover.longest_months(price_minor),
        jobs=count.jobs,
        comebacks=count.comebacks,
    )
