"""The options of a job side by side, handed to the money room as plain figures."""

from __future__ import annotations

import numpy as np

from counterpoise.money import (
    CustomerMachine,
    OptionResult,
    OwnMachine,
    Repairing,
    compare,
    customer_case,
    workshop_case,
)
from counterpoise.reasoning.forecast import Forecast
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.planning import Prices, Thought, parting_value
from counterpoise.workshop.replay import Situation

TELLING = 0.03  # a fault must be at least this likely for the choice to be said to hinge on it


def weigh_options(
    situation: Situation, prices: Prices, thought: Thought, forecast: Forecast, seed: int
) -> tuple[OptionResult, ...]:
    """All options, best first. The drawing of ranges is seeded by the job, so that a page says the same each time."""
    belief = thought.problem.prior
    likely = belief > 0
    if not situation.proven:  # the option to repair is to repair, also where the plan would rather not
        forecast = forecast.repairing()
    repairing = _repairing(belief, forecast, likely)
    masks = _suspects(situation, thought, likely)
    rng = np.random.default_rng(seed)
    if situation.intake.owner == "workshop":
        return compare(workshop_case(_own(situation, prices, thought, repairing, masks)), rng)
    return compare(customer_case(_customers(prices, belief[likely], repairing, masks, forecast, likely)), rng)


def _repairing(belief: Floats, forecast: Forecast, likely: np.ndarray) -> Repairing:
    toll = forecast.toll
    weight = belief[likely]
    handed_over = (toll.sound + toll.slipped)[likely]
    with np.errstate(divide="ignore", invalid="ignore"):
        returns = np.where(handed_over > 0, toll.slipped[likely] / handed_over, 0.0)
    return Repairing(
        minutes=toll.minutes[likely] / weight,
        parts_minor=toll.parts[likely] / weight,
        works=np.clip(handed_over / weight, 0.0, 1.0),
        returns=np.clip(returns, 0.0, 1.0),
    )


def _own(
    situation: Situation, prices: Prices, thought: Thought, repairing: Repairing, masks: dict[str, np.ndarray]
) -> OwnMachine:
    settings, belief = prices.settings, thought.problem.prior
    likely = belief > 0
    yields = parting_value(situation, prices, thought.problem.hypotheses)[likely]
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
        suspects=masks,
        currency=settings.currency,
    )


def _customers(
    prices: Prices,
    belief: Floats,
    repairing: Repairing,
    masks: dict[str, np.ndarray],
    forecast: Forecast,
    likely: np.ndarray,
) -> CustomerMachine:
    return CustomerMachine(
        belief=belief,
        repairing=repairing,
        price_minor=forecast.toll.repair_cost[likely] / belief,
        worth_minor=prices.working,
        owed_minor=0.0,
        comeback_minor=max(0.0, prices.working) + prices.settings.comeback_minor,
        suspects=masks,
        currency=prices.settings.currency,
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
