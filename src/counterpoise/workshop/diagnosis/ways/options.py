"""The options of a job side by side, handed to the money room as plain figures.

Arrays are over the sets of faults that are likely at all, money is minor units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
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
from counterpoise.money.sensitivity import expected
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.monte_carlo import (
    COST,
    FIGURES,
    LOST_COST,
    LOST_MINUTES,
    LOST_PARTS,
    MINUTES,
    MISSED,
    PARTS,
    SOUND,
)
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.hazards import SOLD, must_not_leave
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING, parting_value
from counterpoise.workshop.diagnosis.ways.first_step import decided_ending
from counterpoise.workshop.diagnosis.ways.going_on import GoingOn, worked_through
from counterpoise.workshop.diagnosis.ways.mending import mending_now
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings

# A fault rarer than this, or as good as certain, is not said to be what the choice hinges on.
HINGE_CHANCE = 0.03
# Less probability mass than this shares nothing out: it would divide rounding errors.
_LEAST_MASS = 1e-12
Mask = NDArray[np.bool_]


def weigh_options(analysis: Analysis, going: GoingOn) -> tuple[OptionResult, ...]:
    """The ways to end the job as they stand now, best first.

    Where no check is advised, the way that is advised is the best. The drawing of ranges is seeded
    by the job, so that a page says the same each time.
    """
    rng = np.random.default_rng(analysis.job.number)
    return compare(option_case(analysis, going), rng, advised_way(analysis))


def advised_way(analysis: Analysis) -> str:
    """The id of the way that the advised step begins; empty while a check is advised."""
    situation, first = analysis.situation, analysis.plan.first
    working = WORKING_ENDING[situation.intake.owner]
    if situation.proven or situation.proof_due:
        return working
    ending = decided_ending(analysis.job)
    if ending:
        return ending
    return {"ending": first.id, "repair": working}.get(first.kind, "")


def option_case(analysis: Analysis, going: GoingOn) -> OptionCase:
    """The ways of a job as figures by the set of faults that is really there.

    Each is that way taken now: end at once, or mend. What each is worth on average is what the plan
    says of it, and of mending where it is advised what going on is worth: so no two figures of a
    page speak differently of one thing.
    """
    prior = analysis.planned.problem.prior
    likely = prior > 0
    suspects = _suspect_masks(analysis, likely)
    worked = _repair_now(analysis, going)
    if analysis.situation.intake.owner == "workshop":
        case = workshop_case(_own_machine(analysis, _repairing(analysis, worked), suspects))
    else:
        repairing = _repairing(analysis, worked)
        case = customer_case(_customer_machine(analysis, repairing, suspects, worked))
    case = _at_worth(case, worked.worth, possible=worked.possible)
    if not must_not_leave(analysis.situation):
        return case
    # what may not be sold unrepaired is no way that is open
    barred = SOLD - {WORKING_ENDING["workshop"]}
    options = (replace(o, available=o.available and o.id not in barred) for o in case.options)
    return replace(case, options=tuple(options))


@dataclass(frozen=True)
class _RepairNow:
    """Mending begun now: what it is worth, and (H,) what it takes, times the chance of each set.

    ``possible``: there is a repair to begin with.
    """

    worth: float
    totals: Floats
    possible: bool = True


def _repair_now(analysis: Analysis, going: GoingOn) -> _RepairNow:
    situation, problem = analysis.situation, analysis.planned.problem
    if situation.proven or situation.proof_due:
        return _RepairNow(going.value, _proof_totals(analysis))
    if analysis.plan.first.kind == "repair":
        return _RepairNow(going.value, worked_through(analysis).figures)
    worked = mending_now(problem, analysis.forecast.measures)
    if worked is None:
        return _RepairNow(0.0, np.zeros((problem.prior.size, FIGURES)), possible=False)
    return _RepairNow(worked.worth, worked.figures)


def _proof_totals(analysis: Analysis) -> Floats:
    """(H, F) of a repair that waits for its proof (the spin is left), or ran true (nothing is)."""
    situation, problem = analysis.situation, analysis.planned.problem
    totals = np.zeros((problem.prior.size, FIGURES))
    # row 0 is the empty set: nothing is wrong any more
    sound = np.arange(problem.prior.size) == 0
    if situation.proven:
        totals[:, SOUND], totals[:, MISSED] = problem.prior * sound, problem.prior * ~sound
        return totals
    passes = situation.model.proof.passes(sound)
    totals[:, SOUND] = problem.prior * passes * sound
    totals[:, MISSED] = problem.prior * passes * ~sound
    spin = situation.family.proof_minutes
    totals[:, MINUTES] = problem.prior * spin
    totals[:, COST] = totals[:, MINUTES] * analysis.prices.repair_minute
    failed = problem.prior * (1.0 - passes)
    totals[:, LOST_MINUTES] = failed * spin
    totals[:, LOST_COST] = failed * spin * analysis.prices.repair_minute
    return totals


def _at_worth(case: OptionCase, worth: float, *, possible: bool) -> OptionCase:
    """The case with the way to repair at ``worth``: what the plan knows beyond is spread evenly."""
    options = [
        replace(
            option,
            values=option.values + (worth - expected(option, case.belief)),
            available=possible,
        )
        if option.id in WORKING_ENDING.values()
        else option
        for option in case.options
    ]
    return replace(case, options=tuple(options))


def _days_to_hand_over(settings: Settings, job: Job) -> float:
    """Days until the machine is handed over repaired, from when parts on order are there."""
    wait = 0
    if job.parts_due:
        # from the last entry, not from today: the same job gives the same answer on any day
        wait = (
            date.fromisoformat(job.parts_due) - date.fromisoformat(job.entries[-1].at[:10])
        ).days
    return settings.days_to_repair + max(0, wait)


def _repairing(analysis: Analysis, now: _RepairNow) -> Repairing:
    """What the option to repair takes and brings, by the set of faults."""
    belief = analysis.planned.problem.prior
    likely = belief > 0
    # totals are weighted by the belief: divided by it they hold for a machine of that set
    weight, totals = belief[likely], now.totals[likely]
    handed_over = totals[:, SOUND] + totals[:, MISSED]
    # rounding may leave a hair less than nothing
    given_up = np.maximum(0.0, weight - handed_over)
    return Repairing(
        lost_minutes=_shared_out(totals[:, LOST_MINUTES], given_up),
        lost_parts_minor=_shared_out(totals[:, LOST_PARTS], given_up),
        minutes=totals[:, MINUTES] / weight,
        parts_minor=totals[:, PARTS] / weight,
        # works: handed over as repaired, whether or not the proof missed a fault
        works=np.clip(handed_over / weight, 0.0, 1.0),
        returns=np.clip(_shared_out(totals[:, MISSED], handed_over), 0.0, 1.0),
        days=_days_to_hand_over(analysis.prices.settings, analysis.job),
    )


def _shared_out(total: Floats, mass: Floats) -> Floats:
    """A total for each unit of the chance of it, 0 where there is none."""
    return np.divide(total, mass, out=np.zeros_like(total), where=mass > _LEAST_MASS)


def _own_machine(analysis: Analysis, repairing: Repairing, suspects: dict[str, Mask]) -> OwnMachine:
    prices, problem = analysis.prices, analysis.planned.problem
    settings, money = prices.settings, prices.money
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
        parts_minor=yields + money.scrap_minor,
        parting_minutes=0.0,
        scrap_minor=money.scrap_minor,
        comeback_minor=prices.comes_back,
        selling_minutes=money.selling_minutes,
        days_to_sell=money.days_to_sell,
        days_to_sell_parts=settings.days_to_sell_parts,
        suspects=suspects,
        currency=settings.currency,
    )


def _customer_machine(
    analysis: Analysis, repairing: Repairing, suspects: dict[str, Mask], now: _RepairNow
) -> CustomerMachine:
    prices, belief = analysis.prices, analysis.planned.problem.prior
    likely = belief > 0
    totals = now.totals[likely]
    handed_over = totals[:, SOUND] + totals[:, MISSED]
    given_up = np.maximum(0.0, belief[likely] - handed_over)
    # what was spent on machines given up is charged apart from the price of a repair; the call-out
    # is owed whatever is decided, so it weighs nothing here
    price = _shared_out(totals[:, COST] - totals[:, LOST_COST], handed_over)
    lost = _shared_out(totals[:, LOST_COST], given_up)
    return CustomerMachine(
        belief=belief[likely],
        repairing=repairing,
        price_minor=price,
        # the fee for finding the fault is owed unless the machine is repaired
        unsuccessful_minor=lost + prices.owed,
        worth_minor=prices.working,
        owed_minor=prices.owed,
        comeback_minor=prices.comes_back,
        suspects=suspects,
        currency=prices.settings.currency,
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
