"""What would have to be true for the runner-up to be the better step: thresholds of single figures.

One figure moves at a time, and both ways of going on are held as they are planned now, so what each
earns is linear in that figure and its break-even point is exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.money.amount import show
from counterpoise.reasoning.actions import Action, Plan
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.planning.break_even import break_even_change, break_even_probability
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.assessment import Contest, Rival, Step, Threshold
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import PlannedProblem, index_of

LEAST_CHANCE = 0.01  # suspects less likely than this are not spoken of
MOST_THRESHOLDS = 3
# A figure (or the odds of a suspect) that had to move by more than 8 times is not told of.
MOST_DISTANCE = math.log(8.0)
# Figures that had to fall below this are not told of: minutes, then minor units.
LEAST_FIGURE = {"minutes": 0.5, "price": 1.0, "worth": 1.0}
HALF_MINUTES_BELOW = 10.0  # minutes below this are told to the half
# Minor units; ways less apart than this are as good, and nothing would turn that is not turned.
LEAST_LEAD = 1.0


@dataclass(frozen=True)
class TwoWays:
    """The advised way of going on and the runner-up, each held fixed.

    ``total`` is what the plan says the advised way earns more on average, in minor units.
    """

    model: FamilyModel
    prices: Prices
    planned: PlannedProblem
    first: Forecast
    second: Forecast
    total: float

    @property
    def lead(self) -> Floats:
        """(H,) minor units that the advised way earns more, times the chance of each set of faults.

        Sums to ``total``. The two ways are followed until hardly anything is left; what the plan
        knows beyond that is spread evenly.
        """
        followed = self.first.totals.worth - self.second.totals.worth
        prior = self.planned.problem.prior
        return np.asarray(followed + (self.total - float(followed.sum())) * prior)

    @property
    def family(self) -> Family:
        """The family of the machine."""
        return self.model.family


def two_ways(analysis: Analysis) -> TwoWays | None:
    """The advised way and the runner-up of an analysis; None where the plan has no runner-up."""
    planned, forecast = analysis.planned, analysis.forecast
    plan = planned.look.result()
    rival = next((bounds for bounds in plan.action_bounds if bounds.action != plan.first), None)
    if rival is None:
        return None
    # the runner-up begins with its own step and then goes on as planned
    second = Forecast(planned.look, forecast.measures, act=index_of(planned.problem, rival.action))
    total = plan.lower - rival.lower
    return TwoWays(analysis.situation.model, analysis.prices, planned, forecast, second, total)


def contest(
    ways: TwoWays | None, plan: Plan, step: Step | None, rival: Rival | None
) -> Contest | None:
    """What would have to be true for ``rival`` to be better than ``step``.

    None where nothing near by would do, or where both are as good.
    """
    # an ending or a proof that evidence prescribes has no runner-up
    if ways is None or step is None or rival is None or ways.total < LEAST_LEAD:
        return None
    ranked = sorted(
        [*_nearest_each_way(_chances(ways)), *_figures(ways, plan, step, rival)],
        key=lambda pair: pair[0],
    )
    # a figure that had to be eight times as large is no figure to doubt
    near = tuple(threshold for distance, threshold in ranked if distance <= MOST_DISTANCE)
    thresholds = near[:MOST_THRESHOLDS]
    return Contest(rival.kind, rival.id, rival.title, thresholds) if thresholds else None


# How far a figure has to move (a difference of logarithms, so that figures compare), and to where.
Distanced = tuple[float, Threshold]


def _nearest_each_way(thresholds: Iterator[Distanced]) -> list[Distanced]:
    """The nearest suspect that had to be likelier, and the nearest that had to be less likely."""
    ranked = sorted(thresholds, key=lambda pair: pair[0])
    more = [pair for pair in ranked if pair[1].more]
    less = [pair for pair in ranked if not pair[1].more]
    # the second nearest of a kind says little that the nearest has not said
    return [*more[:1], *less[:1]]


def _chances(ways: TwoWays) -> Iterator[Distanced]:
    problem = ways.planned.problem
    for fault in ways.family.faults.values():
        present = ways.model.mask(fault.id, problem.hypotheses)
        now = float(problem.prior[present].sum())
        at = (
            break_even_probability(problem.prior, ways.lead, present)
            if now >= LEAST_CHANCE
            else None
        )
        if at is None or not 0.0 < now < 1.0:
            continue
        more = at > now
        word = "likelier" if more else "less likely"
        text = (
            f'"{fault.title}" were {word} than {_percent(at, up=more)}'
            f" (now {_percent(now, up=None)})"
        )
        distance = abs(_logit(at) - _logit(now))
        yield distance, Threshold("chance", fault.id, now, at, more, text)


def _figures(ways: TwoWays, plan: Plan, step: Step, rival: Rival) -> Iterator[Distanced]:
    """The nearest threshold of minutes, of part prices, and of a running machine's worth."""
    minutes = [
        *_minutes(ways, plan.first, step.minutes, "this step"),
        *_rivals_minutes(ways, rival),
    ]
    yield from sorted(minutes, key=lambda pair: pair[0])[:1]
    yield from sorted(_part_prices(ways), key=lambda pair: pair[0])[:1]
    sound_more_often = float((ways.first.totals.sound - ways.second.totals.sound).sum())
    yield from _threshold(
        ways,
        ("worth", "working"),
        ways.planned.problem.working,
        sound_more_often,
        "a running machine were worth",
    )


def _rivals_minutes(ways: TwoWays, rival: Rival) -> Iterator[Distanced]:
    if rival.kind in {"check", "repair"}:
        yield from _minutes(ways, Action(rival.kind, rival.id), rival.minutes, f'"{rival.title}"')


def _minutes(ways: TwoWays, action: Action, minutes: float, name: str) -> Iterator[Distanced]:
    problem, first, second = ways.planned.problem, ways.first.totals, ways.second.totals
    if action.kind == "check":
        people = ways.family.checks[action.id].people
        index = next(i for i, check in enumerate(problem.checks) if check.id == action.id)
        more_often = first.check_chance[index] - second.check_chance[index]
        rate = ways.prices.minute * people
    elif action.kind == "repair" and action.id in ways.family.repairs:
        people = ways.family.repairs[action.id].people
        index = next(i for i, repair in enumerate(problem.repairs) if repair.id == action.id)
        more_often = first.repair_chance[index] - second.repair_chance[index]
        rate = ways.prices.repair_minute * people
    else:
        return
    # minutes are a cost: the way that takes the step more often loses by them
    slope = -float(more_often) * rate
    yield from _threshold(ways, ("minutes", action.id), minutes, slope, f"{name} took")


def _part_prices(ways: TwoWays) -> Iterator[Distanced]:
    more_often = ways.first.totals.repair_chance - ways.second.totals.repair_chance
    slopes: dict[str, float] = {}
    for index, repair in enumerate(ways.planned.problem.repairs):
        entry = ways.family.repairs.get(repair.id)
        for part, count in ways.prices.wanted(entry).items() if entry else ():
            slopes[part] = (
                slopes.get(part, 0.0) - float(more_often[index]) * count * ways.prices.parts_factor
            )
    for part, slope in slopes.items():
        entry_of_part = ways.family.parts[part]
        # today's price is that of the cheapest offer, as the plan reckoned
        now = ways.prices.supply.best(entry_of_part, 1).total_minor(1)
        yield from _threshold(
            ways, ("price", part), float(now), slope, f'"{entry_of_part.title}" cost'
        )


def _threshold(
    ways: TwoWays, figure: tuple[str, str], now: float, slope: float, name: str
) -> Iterator[Distanced]:
    """Where a figure (its kind and id) turns the choice; nothing where it cannot.

    ``slope``: minor units that the lead gains by one more unit of the figure.
    """
    kind, figure_id = figure
    change = break_even_change(ways.total, slope)
    if change is None or now <= 0.0 or now + change < LEAST_FIGURE[kind]:
        return
    at, more = now + change, change > 0.0
    # minutes are told in halves or wholes, money to the coin
    if kind == "minutes":
        limit, present = _minutes_text(at, up=more), _minutes_text(now, up=None)
    else:
        currency = ways.family.currency
        # away from where it turns, so that what is said is true to the coin
        limit = show(math.ceil(at) if more else math.floor(at), currency)
        present = show(round(now), currency)
    text = f"{name} {'more' if more else 'less'} than {limit} (now {present})"
    # a doubling and a halving are as far
    yield abs(math.log(at / now)), Threshold(kind, figure_id, now, at, more, text)


def _logit(p: float) -> float:
    return math.log(p / (1.0 - p))


def _percent(p: float, *, up: bool | None) -> str:
    """Per cent, rounded away from where the choice turns, so that what is said is true.

    ``up`` None: to the nearest. Finer near 0 and 1, where whole per cent would say nothing.
    """
    unit = 1.0 if 0.1 <= p <= 0.9 else 0.1
    whole = _rounded(100.0 * p / unit, up=up)
    return f"{whole * unit:.{0 if unit == 1.0 else 1}f} %"


def _minutes_text(minutes: float, *, up: bool | None) -> str:
    """Minutes rounded as :func:`_percent` does, to the half below ten."""
    unit = 0.5 if minutes < HALF_MINUTES_BELOW else 1.0
    whole = _rounded(minutes / unit, up=up)
    return f"{whole * unit:g} minute{'' if whole * unit == 1.0 else 's'}"


def _rounded(value: float, *, up: bool | None) -> int:
    if up is None:
        return round(value)
    return math.ceil(value) if up else math.floor(value)
