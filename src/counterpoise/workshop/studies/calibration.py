"""Do the ranges hold? Virtual jobs, thought through as at the bench, then played out once for each way to end them.

Machines are drawn and behave as the catalog says; some questions have been answered when a job is thought through. The
work is planned anew after each finding, as at the bench, and what really happens is drawn: findings, cures, proofs that
miss a fault, comebacks, and minutes and prices that err as widely as the workshop says they do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.money import OptionCase, compare
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.assess import consider, measures_of
from counterpoise.workshop.diagnosis.options import Considered, option_case
from counterpoise.workshop.diagnosis.problem import DROPPED, WORKING_ENDING, build_problem
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job, Owner
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.simulated_jobs import Machine, World, draw_machine

MOST_SETS = 150
MOST_STEPS = 40
MOST_ANSWERED = 3  # questions answered before a job is thought through
_WALKING = Effort(
    growths=2
)  # after each step of the work; jobs are thought through as the bench page does
_LONG_AGO = "2000-01-01T00:00:00Z"


@dataclass(frozen=True)
class Ranged:
    """A way to end a virtual job: the range it was given, its expected value, and how it came out, in minor units."""

    option: str
    low: float
    high: float
    value: float
    outcome: float

    @property
    def held(self) -> bool:
        """Whether the range held."""
        return self.low <= self.outcome <= self.high


def calibrate(
    family: str,
    jobs: int,
    seed: int,
    workers: int = 1,
    note: Callable[[int], None] = lambda _: None,
) -> dict[str, dict[str, float]]:
    """By option, and "all" together: how many ranges, the share that held, and mean value and outcome."""
    found: list[Ranged] = []
    work = [(family, seed, job) for job in range(jobs)]
    if workers <= 1:
        for one in work:
            found += play_job(*one)
            note(1)
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            for played in pool.map(play_job, *zip(*work, strict=True), chunksize=5):
                found += played
                note(1)
    names = sorted({one.option for one in found})
    return {
        name: _figures([one for one in found if name in {one.option, "all"}])
        for name in [*names, "all"]
    }


def _figures(found: list[Ranged]) -> dict[str, float]:
    n = len(found)
    return {
        "ranges": n,
        "held": sum(one.held for one in found) / n,
        "below": sum(one.outcome < one.low for one in found) / n,
        "above": sum(one.outcome > one.high for one in found) / n,
        "value": sum(one.value for one in found) / n,
        "outcome": sum(one.outcome for one in found) / n,
    }


def play_job(name: str, seed: int, number: int) -> list[Ranged]:
    """One virtual job: a customer's where the number is odd, else the workshop's own."""
    rng = np.random.default_rng([seed, 7, number])
    family, settings = load_family(name), Settings()
    world = World.of(family, settings)
    machine = draw_machine(world, rng)
    owner: Owner = "customer" if number % 2 else "workshop"
    intake = Intake(family.id, owner, "virtual", machine.complaints, machine.age_years)
    job = Job(number, (Entry(1, _LONG_AGO, "", intake),))
    seen = consider(family, settings, job)
    for _ in range(int(rng.integers(0, MOST_ANSWERED + 1))):
        if seen.plan.first.kind != "check":
            break
        job = _asked(job, seen, machine, rng)
        seen = consider(family, settings, job)
    return _ranged(seen, job, machine, rng)


def _asked(job: Job, seen: Considered, machine: Machine, rng: np.random.Generator) -> Job:
    """The job with the advised check answered."""
    check, base = seen.plan.first.id, seen.situation.base
    chances = base.tables[check][:, machine.truth]
    outcome = list(base.family.checks[check].outcomes)[
        int(rng.choice(chances.size, p=chances / chances.sum()))
    ]
    return Job(
        job.number,
        (*job.entries, Entry(len(job.entries) + 1, _LONG_AGO, "", Finding(check, outcome))),
    )


def _ranged(seen: Considered, job: Job, machine: Machine, rng: np.random.Generator) -> list[Ranged]:
    case = option_case(seen, job)
    worked = _Work(seen, machine.truth, rng).done()
    outcomes = _outcomes(case, seen, machine, worked, rng)
    return [
        Ranged(one.id, one.low_minor, one.high_minor, one.value_minor, outcomes[one.id])
        for one in compare(case, rng)
        if one.id in outcomes and one.high_minor > one.low_minor
    ]


@dataclass
class Worked:
    """What the repair took, and how it ended: handed over (perhaps with a fault left), or given up with an ending."""

    minutes: float = 0.0
    parts: float = 0.0
    charged: float = 0.0
    handed: bool = False
    comes_back: bool = False
    left: float = 0.0


class _Work:
    """The option to repair, played once: the plan is made anew after each step."""

    def __init__(self, seen: Considered, truth: int, rng: np.random.Generator) -> None:
        self._problem: Problem = build_problem(seen.situation, seen.prices.settings)
        self._measures = measures_of(seen.prices, self._problem)
        self._first = seen.forecast.repairing().first
        self._truth, self._rng, self._worked = truth, rng, Worked()

    def done(self) -> Worked:
        """Work until the machine is handed over or given up."""
        action = self._first
        for _ in range(MOST_STEPS):
            if action.kind == "ending":
                number = next(
                    i for i, one in enumerate(self._problem.endings) if one.id == action.id
                )
                self._worked.left = float(self._problem.ending_values[number, self._truth])
                break
            if action.kind == "check":
                self._check(action.id)
            elif self._repair(action.id):
                break
            action = self._next()
        return self._worked

    def _next(self) -> Action:
        smaller, _ = self._problem.narrowed(DROPPED, MOST_SETS)
        return Lookahead(smaller, prune_unlikely=True).plan(_WALKING).first

    def _open(self, access: str | None) -> float:
        """Open what is in the way; returns what that costs."""
        needed = panels_needed(self._problem.access, access)
        missing = [
            i for i in range(len(self._problem.access)) if needed & ~self._problem.opened & 1 << i
        ]
        self._worked.minutes += sum(float(self._measures.panel_minutes[i]) for i in missing)
        self._problem = replace(self._problem, opened=self._problem.opened | needed)
        return sum(self._problem.access[i].open + self._problem.access[i].close for i in missing)

    def _check(self, name: str) -> None:
        number = next(i for i, one in enumerate(self._problem.checks) if one.id == name)
        self._open(self._problem.checks[number].access)
        self._worked.minutes += float(self._measures.check_minutes[number])
        table = self._problem.tables[number]
        chances = table[:, self._truth]
        belief = (
            self._problem.prior
            * table[int(self._rng.choice(chances.size, p=chances / chances.sum()))]
        )
        self._problem = replace(
            self._problem, prior=belief / belief.sum(), done=self._problem.done | 1 << number
        )

    def _repair(self, name: str) -> bool:
        """Mend and prove; returns whether the machine is handed over."""
        number = next(i for i, one in enumerate(self._problem.repairs) if one.id == name)
        repair, retest, worked = self._problem.repairs[number], self._problem.retest, self._worked
        worked.charged += self._open(repair.access) + repair.cost + retest.cost
        worked.minutes += float(self._measures.repair_minutes[number])
        worked.parts += float(self._measures.repair_parts[number])
        self._truth = self._mended(number)
        if self._truth == 0 or self._rng.random() < retest.misses:
            worked.handed, worked.comes_back = True, self._truth != 0
            return True
        belief = repaired(self._problem.prior, self._problem.transitions[number]) * (
            1.0 - retest.misses
        )
        belief[0] = 0.0
        self._problem = replace(
            self._problem, prior=belief / belief.sum(), tried=self._problem.tried | 1 << number
        )
        return False

    def _mended(self, number: int) -> int:
        moves = self._problem.transitions[number]
        here = moves.source == self._truth
        edges = np.cumsum(moves.chance[here])
        at = int(np.searchsorted(edges, self._rng.random(), side="right"))
        return int(moves.target[here][at]) if at < edges.size else self._truth


def _outcomes(
    case: OptionCase, seen: Considered, machine: Machine, worked: Worked, rng: np.random.Generator
) -> Mapping[str, float]:
    """What each way that is not settled beforehand came to; prices and minutes err as the case says."""
    err = {one.id: _factor(one.sd / one.mean, rng) for one in case.unknowns}
    prices = seen.prices
    settings, returned = prices.settings, max(0.0, prices.working) + prices.settings.comeback_minor
    back = returned * worked.comes_back
    if prices.owner == "customer":
        worth = prices.working * err.get("worth", 1.0) * worked.handed
        return {WORKING_ENDING["customer"]: worth - worked.charged * err.get("price", 1.0) - back}
    spent = worked.minutes * prices.minute * err.get("minutes", 1.0) + worked.parts * err.get(
        "parts", 1.0
    )
    selling = settings.selling_minutes * prices.minute
    fetched = prices.resale * err.get("resale", 1.0) - selling if worked.handed else worked.left
    problem = build_problem(seen.situation, settings)
    parts = next(i for i, one in enumerate(problem.endings) if one.id == "part_out")
    return {
        WORKING_ENDING["workshop"]: fetched - spent - back,
        "part_out": float(problem.ending_values[parts, machine.truth]) * err.get("parts_out", 1.0),
        "sell_as_is": prices.as_is * err.get("as_is", 1.0) - selling,
    }


def _factor(spread: float, rng: np.random.Generator) -> float:
    """A factor of mean 1 that is never negative."""
    width = float(np.log1p(spread**2))
    return float(rng.lognormal(-width / 2.0, np.sqrt(width)))
