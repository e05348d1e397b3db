"""Do the ranges hold? Virtual jobs, analysed as at the bench, then played out once for each ending.

Machines are drawn and behave as the catalog says; some questions have been answered when a job is
analysed. The work is planned anew after each finding, as at the bench, and what really happens is
drawn: findings, cures, proofs that miss a fault, comebacks, and minutes and prices that err as
widely as the workshop says they do. Money is minor units.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from counterpoise.catalog.loader import Catalog
from counterpoise.money import OptionCase, compare
from counterpoise.workshop.diagnosis.analysis import Analysis, analyse
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import all_rows
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING, build_problem
from counterpoise.workshop.diagnosis.ways.going_on import going_on
from counterpoise.workshop.diagnosis.ways.options import option_case
from counterpoise.workshop.jobs.choices import Owner
from counterpoise.workshop.jobs.entries import Entry, Finding, Intake, Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.simulated_work import (
    SimulatedWork,
    WorkResult,
    index_of_id,
)
from counterpoise.workshop.studies.world import SimulatedMachine, World, draw_machine

MOST_ANSWERED = 3  # questions answered before a job is analysed
# No day of its own: nothing in a virtual job may hang on the calendar.
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
    *,
    folder: Path | None = None,
) -> dict[str, dict[str, float]]:
    """By option, and "all" together: how many ranges, the share that held, mean value and outcome.

    ``note`` is told 1 for each job played, on ``workers`` processes. ``folder``: where the
    workshop's own families lie.
    """
    ranges: list[RangeOutcome] = []
    work = [(family, seed, job, folder) for job in range(jobs)]
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
    # eight in ten are meant to hold; as many should fall short as go beyond
    n = len(ranges)
    return {
        "ranges": n,
        "held": sum(each.held for each in ranges) / n,
        "below": sum(each.outcome < each.low for each in ranges) / n,
        "above": sum(each.outcome > each.high for each in ranges) / n,
        "value": sum(each.value for each in ranges) / n,
        "outcome": sum(each.outcome for each in ranges) / n,
    }


def play_job(name: str, seed: int, number: int, folder: Path | None = None) -> list[RangeOutcome]:
    """One virtual job of a family: a customer's where the number is odd, else the workshop's own.

    The same seed and number give the same job. Empty where no way had a range.
    """
    # 7: a stream of its own, so that a study of the same seed draws other machines
    rng = np.random.default_rng([seed, 7, number])
    family, settings = Catalog(folder).load(name), Settings()
    machine = draw_machine(World.of(family, settings), rng)
    # by turns, since the two have other options and other ranges
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
    rows = all_rows(model, analysis.situation.kinds, analysis.situation.joint)
    entry = model.family.checks[check]
    chances = rows.table(entry)[:, machine.truth]
    outcome = rows.check(entry).outcomes[int(rng.choice(chances.size, p=chances / chances.sum()))]
    answered = Entry(len(job.entries) + 1, _LONG_AGO, "", Finding(check, outcome))
    return Job(job.number, (*job.entries, answered))


def _range_outcomes(
    analysis: Analysis, machine: SimulatedMachine, rng: np.random.Generator
) -> list[RangeOutcome]:
    case = option_case(analysis, going_on(analysis))
    # one play for the option to repair; the others are settled by what is wrong
    worked = SimulatedWork(analysis, machine.truth, rng).done()
    outcomes = _outcomes(case, analysis, machine, worked, rng)
    return [
        RangeOutcome(
            option.id, option.low_minor, option.high_minor, option.value_minor, outcomes[option.id]
        )
        for option in compare(case, rng)
        # a way that is settled beforehand has no range to hold
        if option.id in outcomes and option.high_minor > option.low_minor
    ]


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
    back = prices.comes_back * worked.comes_back
    # a customer has one way whose outcome is not settled beforehand
    if prices.owner == "customer":
        worth = prices.working * error.get("worth", 1.0) * worked.handed
        charged = worked.charged * error.get("price", 1.0)
        return {WORKING_ENDING["customer"]: worth - charged - back}
    bench = worked.minutes * prices.minute * error.get("minutes", 1.0)
    spent = bench + worked.parts * error.get("parts", 1.0)
    resale = prices.resale * error.get("resale", 1.0)
    fetched = resale - prices.selling if worked.handed else worked.left
    # good parts are known once the machine is open: by what is wrong, not by what was believed
    problem = build_problem(analysis.situation, prices.settings)
    parts_out = problem.ending_values[index_of_id(problem.endings, "part_out"), machine.truth]
    return {
        WORKING_ENDING["workshop"]: fetched - spent - back,
        "part_out": float(parts_out) * error.get("parts_out", 1.0),
        "sell_as_is": prices.as_is * error.get("as_is", 1.0) - prices.selling,
    }


def _factor(spread: float, rng: np.random.Generator) -> float:
    """A drawn factor of mean 1 that is never negative; ``spread`` is its standard deviation."""
    # log-normal, as minutes and prices are: they double more easily than they vanish
    width = float(np.log1p(spread**2))
    return float(rng.lognormal(-width / 2.0, np.sqrt(width)))
