"""The options of a job side by side, handed to the money room as plain figures."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

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
from counterpoise.reasoning.actions import Plan
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.workshop.diagnosis.problem import Prices, Thought, parting_value
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.diagnosis.robust import Choice
from counterpoise.workshop.jobs.comeback import guaranteed
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings


@dataclass(frozen=True)
class Considered:
    """A job thought through: where it stands, what was planned, and what the plan will take."""

    situation: Situation
    prices: Prices
    thought: Thought
    plan: Plan
    forecast: Forecast
    choice: Choice | None = None  # of the careful mode, where it is on


TELLING = 0.03  # a fault must be at least this likely for the choice to be said to hinge on it


def weigh_options(seen: Considered, job: Job) -> tuple[OptionResult, ...]:
    """All options, best first. The drawing of ranges is seeded by the job, so that a page says the same each time."""
    return compare(option_case(seen, job), np.random.default_rng(job.number))


def option_case(seen: Considered, job: Job) -> OptionCase:
    """The options of a job as figures by the set of faults that is really there."""
    thought, forecast = seen.thought, seen.forecast
    likely = thought.problem.prior > 0
    if (
        not seen.situation.proven
    ):  # the option to repair is to repair, also where the plan would rather not
        forecast = forecast.repairing()
    repairing = _repairing(
        thought.problem.prior, forecast, likely, _days(seen.prices.settings, job)
    )
    masks = _suspects(seen.situation, thought, likely)
    if seen.situation.intake.owner == "workshop":
        return workshop_case(_own(seen, repairing, masks))
    return customer_case(_customers(seen, job, repairing, masks, forecast))


def _days(settings: Settings, job: Job) -> float:
    """Days until the machine is handed over repaired: those it takes, from when the parts on order are there."""
    wait = 0
    if job.parts_due:
        wait = (
            date.fromisoformat(job.parts_due) - date.fromisoformat(job.entries[-1].at[:10])
        ).days
    return settings.days_to_repair + max(0, wait)


def _repairing(belief: Floats, forecast: Forecast, likely: np.ndarray, days: float) -> Repairing:
    toll = forecast.simulated
    weight = belief[likely]
    handed_over = (toll.sound + toll.missed)[likely]
    given_up = np.maximum(0.0, weight - handed_over)
    return Repairing(
        lost_minutes=_each(toll.lost[0, likely], given_up),
        lost_parts_minor=_each(toll.lost[2, likely], given_up),
        minutes=toll.minutes[likely] / weight,
        parts_minor=toll.parts[likely] / weight,
        works=np.clip(handed_over / weight, 0.0, 1.0),
        returns=np.clip(_each(toll.missed[likely], handed_over), 0.0, 1.0),
        days=days,
    )


def _each(total: Floats, mass: Floats) -> Floats:
    """A total shared out over the chance of it, 0 where there is none."""
    return np.divide(total, mass, out=np.zeros_like(total), where=mass > 1e-12)


def _own(seen: Considered, repairing: Repairing, masks: dict[str, np.ndarray]) -> OwnMachine:
    prices, thought = seen.prices, seen.thought
    settings, belief = prices.settings, thought.problem.prior
    likely = belief > 0
    yields = parting_value(seen.situation, prices, thought.problem.hypotheses)[likely]
    return OwnMachine(
        belief=belief[likely],
        repairing=repairing,
        rate_minor=settings.bench_rate_minor,
        resale_minor=prices.resale,
        as_is_minor=prices.as_is,
        parts_minor=yields + settings.scrap_minor,  # bench time of stripping is taken off already
        parting_minutes=0.0,
        scrap_minor=settings.scrap_minor,
        comeback_minor=max(0.0, prices.working) + settings.comeback_minor,
        selling_minutes=settings.selling_minutes,
        days_to_sell=settings.days_to_sell,
        days_to_sell_parts=settings.days_to_sell_parts,
        suspects=masks,
        currency=settings.currency,
    )


def _customers(
    seen: Considered,
    job: Job,
    repairing: Repairing,
    masks: dict[str, np.ndarray],
    forecast: Forecast,
) -> CustomerMachine:
    prices, belief = seen.prices, seen.thought.problem.prior
    likely = belief > 0
    settings = prices.settings
    away = settings.callout_minor * prices.with_tax if seen.situation.intake.away else 0.0
    toll, free = forecast.simulated, guaranteed(job, settings)
    handed = (toll.sound + toll.missed)[likely]
    price = _each((toll.repair_cost - toll.lost[1])[likely], handed) + away
    lost = _each(toll.lost[1, likely], np.maximum(0.0, belief[likely] - handed))
    return CustomerMachine(
        belief=belief[likely],
        repairing=repairing,
        price_minor=0.0 * price if free else price,
        unsuccessful_minor=0.0 * lost if free else lost,
        worth_minor=prices.working,
        owed_minor=0.0,
        comeback_minor=max(0.0, prices.working) + settings.comeback_minor,
        suspects=masks,
        currency=settings.currency,
    )


def _suspects(situation: Situation, thought: Thought, likely: np.ndarray) -> dict[str, np.ndarray]:
    base, problem = situation.base, thought.problem
    present = problem.hypotheses.present[likely]
    belief = problem.prior[likely]
    masks = {}
    for fault in base.family.faults.values():
        columns = [i for i, owner in enumerate(base.fault_of) if owner == fault.id]
        mask = present[:, columns].any(axis=1)
        if TELLING <= float(belief @ mask) <= 1.0 - TELLING:
            masks[fault.title.lower()] = mask
    return masks
