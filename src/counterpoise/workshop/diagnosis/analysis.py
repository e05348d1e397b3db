"""A job analysed: where it stands, the plan, and what following it takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from counterpoise.reasoning.actions import Plan
from counterpoise.reasoning.planning.bounds_refinement import capped
from counterpoise.reasoning.planning.first_steps import Comparison, FirstSteps
from counterpoise.reasoning.planning.forecast import MACHINES, Forecast
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.planning.monte_carlo import DrawnMachines, Measures
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import PlannedProblem, index_of, plan_problem
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.diagnosis.robust import (
    CarefulChoice,
    Evidence,
    careful_choice,
    with_first,
)
from counterpoise.workshop.diagnosis.ways.first_step import Held, beginning_with, held_back
from counterpoise.workshop.diagnosis.ways.irreversible import cannot_be_undone
from counterpoise.workshop.jobs.entries import Job

# What a page can wait for; more hardly ever changes the step.
EFFORT = Effort(growths=14, choosing=True)


@dataclass(frozen=True)
class Analysis:
    """A job thought through: the case it began with, what was planned, what the plan will take.

    ``plan`` begins with the step that ``comparison`` advises, None where nothing can be tried.
    ``careful``: the choice of the careful mode, None where it has no say. ``held``: what cannot be
    undone and waits for a hand on the part, None where nothing waits; then the plan begins with
    that check.
    """

    case: JobCase
    planned: PlannedProblem
    plan: Plan
    forecast: Forecast
    comparison: Comparison | None = None
    careful: CarefulChoice | None = None
    held: Held | None = None

    @property
    def job(self) -> Job:
        """The job."""
        return self.case.job

    @property
    def situation(self) -> Situation:
        """Where the job stands."""
        return self.case.situation

    @property
    def prices(self) -> Prices:
        """What time, parts and endings are worth for it, in minor units."""
        return self.case.prices


def analyse(case: JobCase, effort: Effort = EFFORT) -> Analysis:
    """Belief, plan and forecast of a job; deterministic."""
    # every figure below comes from this one case: replaying again could mix two states of a job
    situation, settings, prices = case.situation, case.settings, case.prices
    planned = plan_problem(situation, settings, case.supply, effort)
    plan = capped(planned.problem, planned.look.result())
    measures = measures_of(prices, planned.problem)
    # where nothing can be tried there is nothing to compare, nor to be careful with
    if plan.first.kind == "exhausted":
        return Analysis(case, planned, plan, Forecast(planned.look, measures))
    drawn = DrawnMachines(planned.problem, measures, MACHINES, planned.look.work)
    steps = FirstSteps(plan, drawn)
    comparison, careful = steps.advised(), None
    plan = with_first(plan, comparison.first.action)
    # what cannot be undone is weighed with care whatever the settings say
    if settings.careful or cannot_be_undone(planned.problem, plan.first, settings):
        # what speaks for one catalog or another must be what the belief was made of
        evidence = Evidence(prices, planned.rows, situation.evidence)
        careful = careful_choice(planned, evidence, plan)
        plan = with_first(plan, careful.action)
    held = held_back(case, planned, plan.first)
    if held is not None:
        plan = beginning_with(planned, plan, held.touch.check)
    # minutes and options are told of what is advised, not of the step it replaced
    index = index_of(planned.problem, plan.first)
    if index != comparison.first.number:
        comparison = steps.seen_from(index)
    forecast = Forecast(planned.look, measures, act=index, drawn=drawn)
    return Analysis(case, planned, plan, forecast, comparison, careful, held)


def measures_of(prices: Prices, problem: Problem) -> Measures:
    """Minutes and parts of the actions of a problem: person-minutes, parts in minor units.

    A repair brings its proof spin along; the planner's retest that mends nothing takes only that.
    """
    family = prices.family
    repairs = [family.repairs.get(repair.id) for repair in problem.repairs]
    return Measures(
        check_minutes=np.array(
            [family.checks[c.id].minutes * family.checks[c.id].people for c in problem.checks]
        ),
        repair_minutes=np.array(
            [(r.minutes * r.people if r else 0.0) + family.proof_minutes for r in repairs]
        ),
        panel_minutes=np.array(
            [(a.open_min + a.close_min) * a.people for a in family.access.values()]
        ),
        repair_parts=np.array([float(prices.material_minor(r)) if r else 0.0 for r in repairs]),
    )
