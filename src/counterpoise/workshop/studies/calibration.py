"""Do the ranges hold? Virtual jobs, analysed as at the bench, then played out once for each ending.

Machines are drawn and behave as the catalog says; some questions have been answered when a job is
analysed. The work is planned anew after each finding, as at the bench, and what really happens is
drawn: findings, cures, proofs that miss a fault, comebacks, and minutes and prices that err as
widely as the workshop says they do. Money is minor units.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from typing import Protocol

import numpy as np

from counterpoise.catalog.loader import load_family
from counterpoise.money import OptionCase, compare
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import repaired
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.analysis import Analysis, analyse, measures_of
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.options import option_case
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, WORKING_ENDING, build_problem
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job, Owner
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.policies import STUDY_MAX_SETS
from counterpoise.workshop.studies.simulated_jobs import SimulatedMachine, World, draw_machine

MOST_STEPS = 40
MOST_ANSWERED = 3  # questions answered before a job is analysed
# After each step of the work, hundreds of times a job; the job itself is analysed as at the bench.
_EFFORT_BETWEEN_STEPS = Effort(growths=2)
_LONG_AGO = "2000-01-01T00:00:00Z"


@dataclass(frozen=True)
class RangeOutcome:
    """A way to end a virtual job: the range it was given, its expected value, and how it came out.

    All in minor units.
    """

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
    """By option, and "all" together: how many ranges, the share that held, mean value and outcome.

    ``note`` is told 1 for each job played, on ``workers`` processes.
    """
    ranges: list[RangeOutcome] = []
    work = [(family, seed, job) for job in range(jobs)]
    if workers <= 1:
        for each in work:
            ranges += play_job(*each)
            note(1)
    else:
        # in order, so that the same seed gives the same figures on any number of processes
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            for played in pool.map(play_job, *zip(*work, strict=True), chunksize=5):
                ranges += played
                note(1)
    names = sorted({each.option for each in ranges})
    return {
        name: _figures([each for each in ranges if name in {each.option, "all"}])
        for name in [*names, "all"]
    }


def _figures(ranges: list[RangeOutcome]) -> dict[str, float]:
    n = len(ranges)
    return {
        "ranges": n,
        "held": sum(each.held for each in ranges) / n,
        "below": sum(each.outcome < each.low for each in ranges) / n,
        "above": sum(each.outcome > each.high for each in ranges) / n,
        "value": sum(each.value for each in ranges) / n,
        "outcome": sum(each.outcome for each in ranges) / n,
    }


def play_job(name: str, seed: int, number: int) -> list[RangeOutcome]:
    """One virtual job of a family: a customer's where the number is odd, else the workshop's own.

    The same seed and number give the same job. Empty where no way had a range.
    """
    # 7: a stream of its own, so that a study of the same seed draws other machines
    rng = np.random.default_rng([seed, 7, number])
    family, settings = load_family(name), Settings()
    machine = draw_machine(World.of(family, settings), rng)
    owner: Owner = "customer" if number % 2 else "workshop"
    intake = Intake(family.id, owner, "virtual", machine.complaints, machine.age_years)
    job = Job(number, (Entry(1, _LONG_AGO, "", intake),))
    analysis = analyse(JobCase(job, family, settings))
    # ranges must hold at every stage of a job, not only at intake
    for _ in range(int(rng.integers(0, MOST_ANSWERED + 1))):
        # where the plan has come to a repair or an ending nobody asks on
        if analysis.plan.first.kind != "check":
            break
        job = _with_answer(analysis, machine, rng)
        analysis = analyse(JobCase(job, family, settings))
    return _range_outcomes(analysis, machine, rng)


def _with_answer(analysis: Analysis, machine: SimulatedMachine, rng: np.random.Generator) -> Job:
    """The job with the advised check answered, as this machine would answer it."""
    job, model, check = analysis.job, analysis.situation.model, analysis.plan.first.id
    chances = model.tables[check][:, machine.truth]
    outcome = list(model.family.checks[check].outcomes)[
        int(rng.choice(chances.size, p=chances / chances.sum()))
    ]
    entry = Entry(len(job.entries) + 1, _LONG_AGO, "", Finding(check, outcome))
    return Job(job.number, (*job.entries, entry))


def _range_outcomes(
    analysis: Analysis, machine: SimulatedMachine, rng: np.random.Generator
) -> list[RangeOutcome]:
    case = option_case(analysis)
    # one play for the option to repair; the others are settled by what is wrong
    worked = _SimulatedWork(analysis, machine.truth, rng).done()
    outcomes = _outcomes(case, analysis, machine, worked, rng)
    return [
        RangeOutcome(
            option.id, option.low_minor, option.high_minor, option.value_minor, outcomes[option.id]
        )
        for option in compare(case, rng)
        # a way that is settled beforehand has no range to hold
        if option.id in outcomes and option.high_minor > option.low_minor
    ]


@dataclass
class WorkResult:
    """What the repair took, and how it ended: handed over (perhaps with a fault left), or given up.

    ``minutes`` are person-minutes; ``parts``, ``charged`` and ``left`` (what the ending brings) are
    minor units.
    """

    minutes: float = 0.0
    parts: float = 0.0
    charged: float = 0.0
    handed: bool = False
    comes_back: bool = False
    left: float = 0.0


class _SimulatedWork:
    """The option to repair, played once: the plan is made anew after each step."""

    def __init__(self, analysis: Analysis, truth: int, rng: np.random.Generator) -> None:
        self._problem: Problem = build_problem(analysis.situation, analysis.prices.settings)
        self._measures = measures_of(analysis.prices, self._problem)
        self._first = analysis.forecast.repairing().first
        self._truth, self._rng, self._worked = truth, rng, WorkResult()

    def done(self) -> WorkResult:
        """Work until the machine is handed over or given up."""
        action = self._first
        for _ in range(MOST_STEPS):
            if action.kind == "ending":
                index = _index(self._problem.endings, action.id)
                self._worked.left = float(self._problem.ending_values[index, self._truth])
                break
            if action.kind == "check":
                self._check(action.id)
            elif self._repair(action.id):
                break
            action = self._next()
        return self._worked

    def _next(self) -> Action:
        # planned anew: what a step showed may have changed everything
        smaller, _ = self._problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
        return Lookahead(smaller, prune_unlikely=True).plan(_EFFORT_BETWEEN_STEPS).first

    def _open(self, access: str | None) -> float:
        """Open what is in the way; returns what that costs, in minor units."""
        needed = panels_needed(self._problem.access, access)
        missing = [
            i for i in range(len(self._problem.access)) if needed & ~self._problem.opened & 1 << i
        ]
        self._worked.minutes += sum(float(self._measures.panel_minutes[i]) for i in missing)
        self._problem = replace(self._problem, opened=self._problem.opened | needed)
        return sum(self._problem.access[i].open + self._problem.access[i].close for i in missing)

    def _check(self, name: str) -> None:
        index = _index(self._problem.checks, name)
        self._open(self._problem.checks[index].access)
        self._worked.minutes += float(self._measures.check_minutes[index])
        table = self._problem.tables[index]
        chances = table[:, self._truth]
        outcome = int(self._rng.choice(chances.size, p=chances / chances.sum()))
        belief = self._problem.prior * table[outcome]
        self._problem = replace(
            self._problem, prior=belief / belief.sum(), done=self._problem.done | 1 << index
        )

    def _repair(self, name: str) -> bool:
        """Mend and prove; returns whether the machine is handed over."""
        index = _index(self._problem.repairs, name)
        repair, retest, worked = self._problem.repairs[index], self._problem.retest, self._worked
        # the customer pays for panels that a repair opens, not for those that a check did
        worked.charged += self._open(repair.access) + repair.cost + retest.cost
        worked.minutes += float(self._measures.repair_minutes[index])
        worked.parts += float(self._measures.repair_parts[index])
        self._truth = self._mended(index)
        # the spin may miss what is left; then the machine is handed over and comes back
        if self._truth == 0 or self._rng.random() < retest.misses:
            worked.handed, worked.comes_back = True, self._truth != 0
            return True
        belief = repaired(self._problem.prior, self._problem.transitions[index]) * (
            1.0 - retest.misses
        )
        # the planner takes a sound machine to pass always, so this one has a fault left
        belief[0] = 0.0
        self._problem = replace(
            self._problem, prior=belief / belief.sum(), tried=self._problem.tried | 1 << index
        )
        return False

    def _mended(self, index: int) -> int:
        """Index of the set of faults that a repair leaves, drawn; as it was where it cures none."""
        transition = self._problem.transitions[index]
        here = transition.source == self._truth
        edges = np.cumsum(transition.chance[here])
        at = int(np.searchsorted(edges, self._rng.random(), side="right"))
        return int(transition.target[here][at]) if at < edges.size else self._truth


class _Named(Protocol):
    @property
    def id(self) -> str: ...


def _index(items: Sequence[_Named], item_id: str) -> int:
    return next(i for i, item in enumerate(items) if item.id == item_id)


def _outcomes(
    case: OptionCase,
    analysis: Analysis,
    machine: SimulatedMachine,
    worked: WorkResult,
    rng: np.random.Generator,
) -> Mapping[str, float]:
    """What each way that is not settled beforehand came to, in minor units, by option id.

    Prices and minutes err as the case says.
    """
    error = {unknown.id: _factor(unknown.sd / unknown.mean, rng) for unknown in case.unknowns}
    prices = analysis.prices
    settings = prices.settings
    back = (max(0.0, prices.working) + settings.comeback_minor) * worked.comes_back
    # a customer has one way whose outcome is not settled beforehand
    if prices.owner == "customer":
        worth = prices.working * error.get("worth", 1.0) * worked.handed
        charged = worked.charged * error.get("price", 1.0)
        return {WORKING_ENDING["customer"]: worth - charged - back}
    bench = worked.minutes * prices.minute * error.get("minutes", 1.0)
    spent = bench + worked.parts * error.get("parts", 1.0)
    selling = settings.selling_minutes * prices.minute
    resale = prices.resale * error.get("resale", 1.0)
    fetched = resale - selling if worked.handed else worked.left
    problem = build_problem(analysis.situation, settings)
    parts_out = problem.ending_values[_index(problem.endings, "part_out"), machine.truth]
    return {
        WORKING_ENDING["workshop"]: fetched - spent - back,
        "part_out": float(parts_out) * error.get("parts_out", 1.0),
        "sell_as_is": prices.as_is * error.get("as_is", 1.0) - selling,
    }


def _factor(spread: float, rng: np.random.Generator) -> float:
    """A drawn factor of mean 1 that is never negative; ``spread`` is its standard deviation."""
    # log-normal, as minutes and prices are: they double more easily than they vanish
    width = float(np.log1p(spread**2))
    return float(rng.lognormal(-width / 2.0, np.sqrt(width)))
