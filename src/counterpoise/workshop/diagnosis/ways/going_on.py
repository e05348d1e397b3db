"""The value of going on as advised: the one source of it for every page, paper and program.

It is what the plan worked through is expected to bring from here on, all costs taken off, on drawn
machines that are planned anew after each finding. It means the same before a finding and after it:
the mean over the answers to a check, less what the check costs, is the value before it.

Money is minor units, times minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.reasoning.kernels.monte_carlo import MINUTES, MISSED, SOUND
from counterpoise.workshop.diagnosis.analysis import Analysis, analyse
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.problem import WORKING_ENDING
from counterpoise.workshop.diagnosis.ways.first_step import decided_ending
from counterpoise.workshop.diagnosis.ways.mending import Worked
from counterpoise.workshop.jobs.entries import Entry, Proof


@dataclass(frozen=True)
class GoingOn:
    """What going on as advised is worth from here on.

    ``value`` with its standard error ``error``, surely between ``low`` and ``high``; ``minutes`` at
    the bench; ``repaired``: chance that the machine is handed over repaired in the end.
    """

    value: float
    error: float
    low: float
    high: float
    minutes: float
    repaired: float

    @classmethod
    def exactly(cls, value: float, *, repaired: float = 0.0) -> GoingOn:
        """What is settled: nothing is left to do at the bench."""
        return cls(value, 0.0, value, value, 0.0, repaired)


def going_on(analysis: Analysis) -> GoingOn:
    """The value of going on with a job as it is advised."""
    situation, problem = analysis.situation, analysis.planned.problem
    if situation.proof_due:
        return _proof_first(analysis)
    if situation.proven:
        return GoingOn.exactly(_handed_over(analysis), repaired=1.0)
    means = (problem.ending_values @ problem.prior).tolist()
    values = dict(zip([each.id for each in problem.endings], means, strict=True))
    ending = decided_ending(analysis.job)
    # passed on to another workshop, it is worth to its owner what handing it back is
    if ending:
        return GoingOn.exactly(values.get(ending, max(values.values(), default=0.0)))
    plan = analysis.plan
    if plan.first.kind in {"ending", "exhausted"}:
        return GoingOn.exactly(values.get(plan.first.id, 0.0))
    worked = worked_through(analysis)
    # a policy that exists earns the lower end, and none earns more than the upper one
    value = float(np.clip(worked.worth, plan.lower, max(plan.lower, plan.upper)))
    handed = worked.figures[:, SOUND] + worked.figures[:, MISSED]
    return GoingOn(
        value,
        worked.error,
        plan.lower,
        max(plan.lower, plan.upper),
        float(worked.figures[:, MINUTES].sum()),
        float(handed.sum()),
    )


def worked_through(analysis: Analysis) -> Worked:
    """The machines worked through from the advised step on."""
    number = analysis.comparison.first.number if analysis.comparison else 0
    return Worked.through(analysis.forecast.drawn, number)


def _handed_over(analysis: Analysis) -> float:
    """What a machine that ran true is worth: some come back, because the proof missed a fault."""
    situation = analysis.situation
    fault_left = 1.0 - float(situation.probabilities[situation.model.sound].sum())
    prices = analysis.prices
    return prices.working - fault_left * prices.comes_back


def _proof_first(analysis: Analysis) -> GoingOn:
    """A repair that waits for its proof: what the spin costs, and what follows either answer."""
    situation, prices = analysis.situation, analysis.prices
    model = situation.model
    passes = model.proof.passes(model.sound)
    true = float(situation.probabilities @ passes)
    minutes = model.family.proof_minutes
    after = [
        (chance, going_on(analyse(_proved(analysis.case, passed))))
        for chance, passed in ((true, True), (1.0 - true, False))
        if chance > 0.0
    ]
    whole = GoingOn(
        value=_mean(after, "value"),
        error=_mean(after, "error"),
        low=_mean(after, "low"),
        high=_mean(after, "high"),
        minutes=minutes + _mean(after, "minutes"),
        repaired=_mean(after, "repaired"),
    )
    spin = minutes * prices.repair_minute
    return replace(whole, value=whole.value - spin, low=whole.low - spin, high=whole.high - spin)


def _mean(after: list[tuple[float, GoingOn]], figure: str) -> float:
    return sum(chance * float(getattr(each, figure)) for chance, each in after)


def _proved(case: JobCase, passed: bool) -> JobCase:
    """The job as it will be after its proof spin."""
    last = case.job.entries[-1]
    entry = Entry(last.number + 1, last.at, "", Proof(passed))
    job = replace(case.job, entries=(*case.job.entries, entry))
    return JobCase(job, case.family, case.settings, case.supply)


def likely_end(analysis: Analysis, going: GoingOn, best: str) -> str:
    """The id of the ending that going on most likely comes to; ``best``: the best way now."""
    working = WORKING_ENDING[analysis.situation.intake.owner]
    if analysis.plan.first.kind != "check":
        return best
    if going.repaired >= 0.5:
        return working
    problem = analysis.planned.problem
    values = problem.ending_values @ problem.prior
    return problem.endings[int(np.argmax(values))].id if problem.endings else working
