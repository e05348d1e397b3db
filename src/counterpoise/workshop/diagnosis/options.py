"""The options of a job side by side, handed to the money room as plain figures.

Arrays are over the sets of faults that are likely at all, money is minor units.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from counterpoise.money import (
    CustomerMachine,
    OptionCase,
    OptionResult,
    OwnMachine,
    Repairing,
    compare,
    customer_case,
    workshop_case,
)
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.problem import parting_value
from counterpoise.workshop.jobs.comeback import guaranteed
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings

# A fault rarer than this, or as good as certain, is not said to be what the choice hinges on.
HINGE_CHANCE = 0.03
# Less probability mass than this shares nothing out: it would divide rounding errors.
_LEAST_MASS = 1e-12
Mask = NDArray[np.bool_]


def weigh_options(analysis: Analysis) -> tuple[OptionResult, ...]:
    """All options, best first.

    The drawing of ranges is seeded by the job, so that a page says the same each time.
    """
    return compare(option_case(analysis), np.random.default_rng(analysis.job.number))


def option_case(analysis: Analysis) -> OptionCase:
    """The options of a job as figures by the set of faults that is really there."""
    forecast, prior = analysis.forecast, analysis.planned.problem.prior
    likely = prior > 0
    # the option to repair is to repair, also where the plan would rather not
    if not analysis.situation.proven:
        forecast = forecast.repairing()
    days = _days_to_hand_over(analysis.prices.settings, analysis.job)
    repairing = _repairing(prior, forecast, likely, days)
    suspects = _suspect_masks(analysis, likely)
    if analysis.situation.intake.owner == "workshop":
        return workshop_case(_own_machine(analysis, repairing, suspects))
    return customer_case(_customer_machine(analysis, repairing, suspects, forecast))


def _days_to_hand_over(settings: Settings, job: Job) -> float:
    """Days until the machine is handed over repaired, from when parts on order are there."""
    wait = 0
    if job.parts_due:
        # from the last entry, not from today: the same job gives the same answer on any day
        wait = (
            date.fromisoformat(job.parts_due) - date.fromisoformat(job.entries[-1].at[:10])
        ).days
    return settings.days_to_repair + max(0, wait)


def _repairing(belief: Floats, forecast: Forecast, likely: Mask, days: float) -> Repairing:
    """What the option to repair takes and brings, by the set of faults; ``belief`` is (H,)."""
    totals = forecast.simulated
    # totals are weighted by the belief: divided by it they hold for a machine of that set
    weight = belief[likely]
    handed_over = (totals.sound + totals.missed)[likely]
    # rounding may leave a hair less than nothing
    given_up = np.maximum(0.0, weight - handed_over)
    return Repairing(
        lost_minutes=_shared_out(totals.lost[0, likely], given_up),
        lost_parts_minor=_shared_out(totals.lost[2, likely], given_up),
        minutes=totals.minutes[likely] / weight,
        parts_minor=totals.parts[likely] / weight,
        # works: handed over as repaired, whether or not the proof missed a fault
        works=np.clip(handed_over / weight, 0.0, 1.0),
        returns=np.clip(_shared_out(totals.missed[likely], handed_over), 0.0, 1.0),
        days=days,
    )


def _shared_out(total: Floats, mass: Floats) -> Floats:
    """A total for each unit of the chance of it, 0 where there is none."""
    return np.divide(total, mass, out=np.zeros_like(total), where=mass > _LEAST_MASS)


def _own_machine(analysis: Analysis, repairing: Repairing, suspects: dict[str, Mask]) -> OwnMachine:
    prices, problem = analysis.prices, analysis.planned.problem
    settings = prices.settings
    likely = problem.prior > 0
    # by the set of faults that is there: what a fault has spoiled brings nothing
    yields = parting_value(prices, analysis.planned.rows)[likely]
    return OwnMachine(
        belief=problem.prior[likely],
        repairing=repairing,
        rate_minor=settings.bench_rate_minor,
        resale_minor=prices.resale,
        as_is_minor=prices.as_is,
        # bench time of stripping is taken off already, so parting_minutes is 0
        parts_minor=yields + settings.scrap_minor,
        parting_minutes=0.0,
        scrap_minor=settings.scrap_minor,
        comeback_minor=max(0.0, prices.working) + settings.comeback_minor,
        selling_minutes=settings.selling_minutes,
        days_to_sell=settings.days_to_sell,
        days_to_sell_parts=settings.days_to_sell_parts,
        suspects=suspects,
        currency=settings.currency,
    )


def _customer_machine(
    analysis: Analysis, repairing: Repairing, suspects: dict[str, Mask], forecast: Forecast
) -> CustomerMachine:
    prices, belief = analysis.prices, analysis.planned.problem.prior
    settings = prices.settings
    likely = belief > 0
    # part of the price of a repair at the owner's place; a bench that gave up charges none
    away = settings.callout_minor * prices.with_tax if analysis.situation.intake.away else 0.0
    totals, free = forecast.simulated, guaranteed(analysis.job, settings)
    handed_over = (totals.sound + totals.missed)[likely]
    # what was spent on machines given up is charged apart from the price of a repair
    price = _shared_out((totals.repair_cost - totals.lost[1])[likely], handed_over) + away
    lost = _shared_out(totals.lost[1, likely], np.maximum(0.0, belief[likely] - handed_over))
    return CustomerMachine(
        belief=belief[likely],
        repairing=repairing,
        # under the guarantee the customer pays nothing, repaired or not
        price_minor=0.0 * price if free else price,
        # the fee for finding the fault is owed unless the machine is repaired
        unsuccessful_minor=(0.0 * lost if free else lost) + prices.owed,
        worth_minor=prices.working,
        owed_minor=prices.owed,
        comeback_minor=max(0.0, prices.working) + settings.comeback_minor,
        suspects=suspects,
        currency=settings.currency,
    )


def _suspect_masks(analysis: Analysis, likely: Mask) -> dict[str, Mask]:
    """By title, whether a fault is in each likely set; only those the choice could hinge on."""
    model, problem = analysis.situation.model, analysis.planned.problem
    # the likely sets only: options are compared over what the plan was made for
    belief = problem.prior[likely]
    # in small letters: they stand inside a sentence
    masks = {}
    for fault in model.family.faults.values():
        mask = model.mask(fault.id, problem.hypotheses)[likely]
        if HINGE_CHANCE <= float(belief @ mask) <= 1.0 - HINGE_CHANCE:
            masks[fault.title.lower()] = mask
    return masks
