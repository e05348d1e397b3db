"""What a guarantee costs: the chance that a repair comes back, by repair and age, and what mending it again takes.

A repair is handed over where the spin ran true. It comes back where the spin missed what the repair did not cure, or a
fault beside it. How often, the catalog foretells; the workshop's own closed jobs move that figure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import Family, RepairEntry
from counterpoise.money import Weibull
from counterpoise.money.beta_binomial import Share
from counterpoise.money.estimate import estimate
from counterpoise.money.guarantee import Cover
from counterpoise.reasoning.belief import repaired
from counterpoise.workshop.billing.costing import charges_of, order_for
from counterpoise.workshop.diagnosis.family_model import base_of, prior_belief
from counterpoise.workshop.jobs.comeback import GUARANTEED, closings
from counterpoise.workshop.jobs.entries import Closed, Job, RepairDone
from counterpoise.workshop.jobs.settings import Settings

MONTHS = (3, 6, 12, 24)
TRUSTED = 20.0  # jobs of one's own that weigh as much as the catalog's figure (from memory)


@dataclass(frozen=True, slots=True)
class Promise:
    """A guarantee on one repair, or (``repair`` empty) on the whole machine, at an age.

    ``returns``: chance that the repair ever proves not to have held. ``again_minor``: what one comeback costs.
    ``cost_minor`` and ``price_minor``: expected cost, and the price to ask, for each of ``months``. ``jobs`` and
    ``comebacks`` are the workshop's own, which moved the chance.
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


def promises(
    family: Family,
    settings: Settings,
    age_years: float,
    jobs: Iterable[Job] = (),
    price_minor: int | None = None,
) -> tuple[Promise, ...]:
    """Every repair of a family, the surest to hold first. ``price_minor``: what the customer would pay for it."""
    counts = counted(family, jobs)
    found = [_promise(family, settings, entry, age_years, counts.get(entry.id, (0, 0)), price_minor)
             for entry in family.repairs.values()]  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.returns, one.title)))


def whole_machine(settings: Settings, age_years: float, price_minor: int | None = None) -> Promise:
    """A guarantee on whatever fails: by the law of lives, a lower bound, since mended failures are not in it."""
    life = Weibull(settings.life_shape, settings.life_scale_years)
    again = settings.comeback_minor + settings.bench_rate_minor
    cover = Cover(
        0.0, again, life=life, age_years=age_years, margin_percent=settings.guarantee_margin_percent
    )
    return _told(cover, ("", "Whatever fails, an hour of work each"), (0, 0), price_minor)


def cover_of(settings: Settings, returns: float, own_minor: int) -> Cover:
    """A guarantee on a repair: where it comes back, the same work again at its own cost, and what a comeback costs."""
    again = settings.comeback_minor + own_minor
    return Cover(min(1.0, returns), again, margin_percent=settings.guarantee_margin_percent)


def slips(works: float, misses: float) -> float:
    """Chance that a machine handed over after its proof has a fault left; ``works``: that the work left none."""
    missed = (1.0 - works) * misses
    passes = works * (1.0 - misses / 4.0) + missed
    return missed / passes if passes > 0 else 1.0


def catalog_returns(family: Family, entry: RepairEntry, age_years: float) -> float:
    """How often a repair comes back by the catalog: over machines of that age with something for it to cure."""
    base = base_of(family)
    moves = base.moves[entry.id]
    cured = np.bincount(moves.source, weights=moves.chance, minlength=len(base.hypotheses.sets))
    belief = np.exp(prior_belief(base, age_years, entry.needs)) * np.clip(cured, 0.0, 1.0)
    if belief.sum() <= 0:
        return 1.0
    after = repaired(belief / belief.sum(), moves)
    return slips(float(after[0]), family.proof_misses)


def counted(family: Family, jobs: Iterable[Job]) -> Mapping[str, tuple[int, int]]:
    """By repair: machines handed over with it as the last repair, and how many of them came back."""
    found: dict[str, tuple[int, int]] = {}
    for job in jobs:
        if job.intake.family != family.id:
            continue
        standing = {entry.number for entry in job.standing}
        for over in closings(job):
            body = over.body
            done = [
                e.body.repair
                for e in job.standing
                if e.number < over.number and isinstance(e.body, RepairDone)
            ]
            if isinstance(body, Closed) and body.ending in GUARANTEED and done:
                handed, back = found.get(done[-1], (0, 0))
                found[done[-1]] = (handed + 1, back + (over.number not in standing))
    return found


def _promise(
    family: Family,
    settings: Settings,
    entry: RepairEntry,
    age: float,
    seen: tuple[int, int],
    price: int | None,
) -> Promise:
    own = estimate(order_for(family, [entry]), charges_of(settings, "workshop")).net_minor
    handed, back = seen
    believed = min(max(catalog_returns(family, entry, age), 1e-6), 1.0 - 1e-6)
    returns = Share.believed(believed, TRUSTED).updated(back, handed - back).mean
    return _told(cover_of(settings, returns, own), (entry.id, entry.title), seen, price, age)


def _told(
    cover: Cover,
    named: tuple[str, str],
    seen: tuple[int, int],
    price: int | None,
    age: float | None = None,
) -> Promise:
    return Promise(
        *named,
        age_years=cover.age_years if age is None else age,
        returns=cover.returns,
        again_minor=round(cover.comeback_minor),
        months=MONTHS,
        cost_minor=tuple(round(cover.cost_minor(months)) for months in MONTHS),
        price_minor=tuple(cover.price_minor(months) for months in MONTHS),
        longest_months=None if price is None else cover.longest_months(price),
        jobs=seen[0],
        comebacks=seen[1],
    )
