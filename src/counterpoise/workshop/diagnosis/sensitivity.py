"""What would have to be true for the runner-up to be the better step: the figures at which the choice turns."""

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
from counterpoise.workshop.diagnosis.assessment import Contest, Rival, Step, Turning
from counterpoise.workshop.diagnosis.family_model import Base
from counterpoise.workshop.diagnosis.problem import Prices, Thought, number_of

SHOWN = 0.01  # suspects less likely than this are not spoken of
MOST = 3  # turnings told of
FAR = math.log(
    8.0
)  # a figure (or the odds of a suspect) that had to move by more than 8 times is not told of
LEAST = {
    "minutes": 0.5,
    "price": 1.0,
    "worth": 1.0,
}  # figures that had to fall below this are not told of
HALVES = 10.0  # minutes below this are told to the half


@dataclass(frozen=True)
class Courses:
    """The advised way of going on and the runner-up, each held fixed.

    ``total`` is what the plan says the advised way earns more on average.
    """

    base: Base
    prices: Prices
    thought: Thought
    first: Forecast
    second: Forecast
    total: float

    @property
    def lead(self) -> Floats:
        """(H,) what the advised way earns more, times the chance of each set of faults; sums to ``total``.

        The two ways are followed until hardly anything is left; what the plan knows beyond that is spread evenly.
        """
        followed = self.first.totals.worth - self.second.totals.worth
        prior = self.thought.problem.prior
        return np.asarray(followed + (self.total - float(followed.sum())) * prior)

    @property
    def family(self) -> Family:
        """The family of the machine."""
        return self.base.family


def courses(base: Base, prices: Prices, thought: Thought, forecast: Forecast) -> Courses | None:
    """The advised way, of which ``forecast`` tells, and the runner-up; None where there is none."""
    plan = thought.look.result()
    rival = next((one for one in plan.action_bounds if one.action != plan.first), None)
    if rival is None:
        return None
    second = Forecast(thought.look, forecast.measures, act=number_of(thought.problem, rival.action))
    return Courses(base, prices, thought, forecast, second, plan.lower - rival.lower)


def contest(
    both: Courses | None, plan: Plan, step: Step | None, rival: Rival | None
) -> Contest | None:
    """What would have to be true for ``rival`` to be better than ``step``; None where nothing near by would do."""
    if both is None or step is None or rival is None or both.total < 1.0:  # as good, to the coin
        return None
    points = sorted(
        [*_nearest(_chances(both)), *_figures(both, plan, step, rival)], key=lambda found: found[0]
    )
    told = tuple(point for far, point in points if far <= FAR)[:MOST]
    return Contest(rival.kind, rival.id, rival.title, told) if told else None


Found = tuple[float, Turning]  # how far away, and what


def _nearest(found: Iterator[Found]) -> list[Found]:
    """The nearest suspect that had to be likelier, and the nearest that had to be less likely."""
    ranked = sorted(found, key=lambda one: one[0])
    more, less = [one for one in ranked if one[1].more], [one for one in ranked if not one[1].more]
    return [*more[:1], *less[:1]]


def _chances(both: Courses) -> Iterator[Found]:
    problem, base = both.thought.problem, both.base
    for fault in both.family.faults.values():
        columns = [i for i, owner in enumerate(base.fault_of) if owner == fault.id]
        present = np.asarray(problem.hypotheses.present[:, columns].any(axis=1))
        now = float(problem.prior[present].sum())
        at = break_even_probability(problem.prior, both.lead, present) if now >= SHOWN else None
        if at is None or not 0.0 < now < 1.0:
            continue
        more = at > now
        word = "likelier" if more else "less likely"
        text = f'"{fault.title}" were {word} than {_percent(at, up=more)} (now {_percent(now, up=None)})'
        yield abs(_logit(at) - _logit(now)), Turning("chance", fault.id, now, at, more, text)


def _figures(both: Courses, plan: Plan, step: Step, rival: Rival) -> Iterator[Found]:
    """Minutes of the two steps, prices of parts, and what a working machine is worth: the nearest of each kind."""
    first, second = both.first.totals, both.second.totals
    found = [*_minutes(both, plan.first, step.minutes, "this step"), *_rivals_minutes(both, rival)]
    yield from sorted(found, key=lambda one: one[0])[:1]
    yield from sorted(_parts(both), key=lambda one: one[0])[:1]
    sound = float((first.sound - second.sound).sum())
    yield from _moved(
        both,
        "worth",
        "working",
        both.thought.problem.working,
        sound,
        "a running machine were worth",
    )


def _rivals_minutes(both: Courses, rival: Rival) -> Iterator[Found]:
    if rival.kind in {"check", "repair"}:
        yield from _minutes(both, Action(rival.kind, rival.id), rival.minutes, f'"{rival.title}"')


def _minutes(both: Courses, action: Action, minutes: float, name: str) -> Iterator[Found]:
    problem, toll, other = both.thought.problem, both.first.totals, both.second.totals
    if action.kind == "check":
        entry = both.family.checks[action.id]
        number = next(i for i, check in enumerate(problem.checks) if check.id == action.id)
        often, rate = (
            toll.check_chance[number] - other.check_chance[number],
            both.prices.minute * entry.people,
        )
    elif action.kind == "repair" and action.id in both.family.repairs:
        mended = both.family.repairs[action.id]
        number = next(i for i, repair in enumerate(problem.repairs) if repair.id == action.id)
        often, rate = (
            toll.repair_chance[number] - other.repair_chance[number],
            both.prices.repair_minute * mended.people,
        )
    else:
        return
    yield from _moved(both, "minutes", action.id, minutes, -float(often) * rate, f"{name} took")


def _parts(both: Courses) -> Iterator[Found]:
    often = both.first.totals.repair_chance - both.second.totals.repair_chance
    slopes: dict[str, float] = {}
    for number, repair in enumerate(both.thought.problem.repairs):
        entry = both.family.repairs.get(repair.id)
        for part, count in both.prices.wanted(entry).items() if entry else ():
            slopes[part] = (
                slopes.get(part, 0.0) - float(often[number]) * count * both.prices.parts_factor
            )
    for part, slope in slopes.items():
        known = both.family.parts[part]
        now = both.prices.supply.best(known, 1).total_minor(1)
        yield from _moved(both, "price", part, float(now), slope, f'"{known.title}" cost')


def _moved(
    both: Courses, kind: str, which: str, now: float, slope: float, name: str
) -> Iterator[Found]:
    change = break_even_change(both.total, slope)
    if change is None or now <= 0.0 or now + change < LEAST[kind]:
        return
    at, more = now + change, change > 0.0
    told, present = (
        (_minutes_of(at, up=more), _minutes_of(now, up=None))
        if kind == "minutes"
        else (
            show(math.ceil(at) if more else math.floor(at), both.family.currency),
            show(round(now), both.family.currency),
        )
    )
    text = f"{name} {'more' if more else 'less'} than {told} (now {present})"
    yield abs(math.log(at / now)), Turning(kind, which, now, at, more, text)


def _logit(p: float) -> float:
    return math.log(p / (1.0 - p))


def _percent(p: float, *, up: bool | None) -> str:
    """Per cent, rounded away from where it turns, so that what is said is true; finer where that would say nothing."""
    unit = 1.0 if 0.1 <= p <= 0.9 else 0.1
    steps = 100.0 * p / unit
    whole = round(steps) if up is None else math.ceil(steps) if up else math.floor(steps)
    return f"{whole * unit:.{0 if unit == 1.0 else 1}f} %"


def _minutes_of(minutes: float, *, up: bool | None) -> str:
    unit = 0.5 if minutes < HALVES else 1.0
    steps = minutes / unit
    whole = round(steps) if up is None else math.ceil(steps) if up else math.floor(steps)
    return f"{whole * unit:g} minute{'' if whole * unit == 1.0 else 's'}"
