"""What would have to be true for the runner-up to be the better step: thresholds of single figures.

One figure moves at a time, and both ways of going on are held as they are planned now, so what each
earns is linear in that figure. Both are followed on the machines that the two were compared on: a
break-even point is as exact as that comparison.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from counterpoise.catalog.family import Family
from counterpoise.money.amount import show
from counterpoise.reasoning.actions import Action, Plan
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.kernels.monte_carlo import MISSED, SOUND, WORTH
from counterpoise.reasoning.planning.break_even import break_even_change, break_even_probability
from counterpoise.workshop.diagnosis.analysis import Analysis
from counterpoise.workshop.diagnosis.assessment import Contest, Rival, Step, Threshold
from counterpoise.workshop.diagnosis.family_model import FamilyModel
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import PlannedProblem

# Suspects less likely than this are not spoken of: too few of the machines have them.
LEAST_CHANCE = 0.05
MOST_THRESHOLDS = 3
# A figure (or the odds of a suspect) that had to move by more than 8 times is not told of.
MOST_DISTANCE = math.log(8.0)
# Figures that had to fall below this are not told of: minutes, then minor units.
LEAST_FIGURE = {"minutes": 0.5, "price": 1.0, "worth": 1.0}
HALF_MINUTES_BELOW = 10.0  # minutes below this are told to the half


@dataclass(frozen=True)
class TwoWays:
    """The advised way of going on and the runner-up, each held fixed.

    ``lead`` (H,) is what the advised way earns more, in minor units, times the chance of each set
    of faults; ``more_often`` (C + R,) how much likelier it takes each check and repair; ``handed``
    how much likelier it hands a running machine over.
    """

    model: FamilyModel
    prices: Prices
    planned: PlannedProblem
    lead: Floats
    more_often: Floats
    handed: float

    @property
    def total(self) -> float:
        """What the advised way earns more on average, in minor units."""
        return float(self.lead.sum())

    @property
    def family(self) -> Family:
        """The family of the machine."""
        return self.model.family


def two_ways(analysis: Analysis) -> TwoWays | None:
    """The advised way and the runner-up of an analysis; None where the plan has no runner-up."""
    planned, drawn, comparison = analysis.planned, analysis.forecast.drawn, analysis.comparison
    if comparison is None or not comparison.others:
        return None
    first, rival = comparison.first.number, comparison.others[0]
    second = rival.number
    more = drawn.by_set(first) - drawn.by_set(second)
    # what the comparison knows beyond these machines is spread evenly over the belief
    beyond = (rival.behind - float(more[:, WORTH].sum())) * planned.problem.prior
    return TwoWays(
        analysis.situation.model,
        analysis.prices,
        planned,
        lead=more[:, WORTH] + beyond,
        more_often=drawn.taken(first) - drawn.taken(second),
        handed=float(more[:, SOUND].sum() + more[:, MISSED].sum()),
    )


def contest(
    ways: TwoWays | None, plan: Plan, step: Step | None, rival: Rival | None
) -> Contest | None:
    """What would have to be true for ``rival`` to be better than ``step``.

    None where nothing near by would do, or where both are about as good.
    """
    # an ending or a proof that evidence prescribes has no runner-up
    if ways is None or step is None or rival is None or rival.about_as_good or ways.total <= 0.0:
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
    yield from _threshold(
        ways,
        ("worth", "working"),
        ways.planned.problem.working,
        ways.handed,
        "a running machine were worth",
    )


def _rivals_minutes(ways: TwoWays, rival: Rival) -> Iterator[Distanced]:
    if rival.kind in {"check", "repair"}:
        yield from _minutes(ways, Action(rival.kind, rival.id), rival.minutes, f'"{rival.title}"')


def _minutes(ways: TwoWays, action: Action, minutes: float, name: str) -> Iterator[Distanced]:
    problem = ways.planned.problem
    if action.kind == "check":
        people = ways.family.checks[action.id].people
        index = next(i for i, check in enumerate(problem.checks) if check.id == action.id)
        more_often, rate = ways.more_often[index], ways.prices.minute * people
    elif action.kind == "repair" and action.id in ways.family.repairs:
        people = ways.family.repairs[action.id].people
        index = next(i for i, repair in enumerate(problem.repairs) if repair.id == action.id)
        more_often = ways.more_often[len(problem.checks) + index]
        rate = ways.prices.repair_minute * people
    else:
        return
    # minutes are a cost: the way that takes the step more often loses by them
    slope = -float(more_often) * rate
    yield from _threshold(ways, ("minutes", action.id), minutes, slope, f"{name} took")


def _part_prices(ways: TwoWays) -> Iterator[Distanced]:
    more_often = ways.more_often[len(ways.planned.problem.checks) :]
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
