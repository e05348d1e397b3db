"""The bench page's answers, computed: what now, why, what else it could be, what it is worth."""

from __future__ import annotations

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.money import OptionResult
from counterpoise.reasoning.belief import marginals
from counterpoise.reasoning.likelihood_words import likelihood_word
from counterpoise.reasoning.planning.bounds_refinement import capped
from counterpoise.reasoning.planning.forecast import Forecast
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.planning.monte_carlo import Measures
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.advice import Adviser
from counterpoise.workshop.diagnosis.assessment import (
    Assessment,
    Contest,
    Insurance,
    OptionView,
    Rival,
    Step,
    Suspect,
)
from counterpoise.workshop.diagnosis.options import Considered, weigh_options
from counterpoise.workshop.diagnosis.phrases import SAFE_ENDING, SAME_STEP, told_of
from counterpoise.workshop.diagnosis.problem import Prices, Thought, build_problem, think
from counterpoise.workshop.diagnosis.replay import Situation, replay
from counterpoise.workshop.diagnosis.robust import Machine, choose, preferring
from counterpoise.workshop.diagnosis.sensitivity import contest, courses
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NOTHING, Supply

EFFORT = Effort(growths=14, choosing=True)
SHOWN = 0.01  # suspects less likely than this are not listed
RIVALS = 4
WRITE_OFF_WARNING = 0.10


def consider(
    family: Family, settings: Settings, job: Job, effort: Effort = EFFORT, supply: Supply = NOTHING
) -> Considered:
    """Belief, plan and forecast of a job. ``supply``: what its parts can be had for."""
    situation = replay(family, settings, job)
    prices = Prices.of(situation, settings, supply)
    thought = think(build_problem(situation, settings, supply), effort)
    plan, taking = capped(thought.problem, thought.look.result()), measures(prices, thought)
    if not settings.careful or plan.first.kind == "exhausted":
        return Considered(situation, prices, thought, plan, Forecast(thought.look, taking))
    choice = choose(
        thought, Machine(situation.base, prices, situation.intake.features, situation.found)
    )
    forecast = Forecast(thought.look, taking, act=choice.number)
    return Considered(situation, prices, thought, preferring(plan, choice), forecast, choice)


def assess(
    family: Family, settings: Settings, job: Job, effort: Effort = EFFORT, supply: Supply = NOTHING
) -> Assessment:
    """Everything that is shown of a job; deterministic."""
    seen = consider(family, settings, job, effort, supply)
    adviser = Adviser(seen.situation, seen.thought, seen.plan, supply)
    next_step, why, stop = adviser.next(job)
    rivals = () if job.closed else adviser.rivals(RIVALS)
    insurance = _careful(seen, next_step)
    if insurance and next_step and next_step.kind == "ending" and insurance.id != next_step.id:
        why = SAFE_ENDING
    return Assessment(
        job=job.number,
        value_minor=round(seen.plan.lower),
        lower_minor=round(seen.plan.lower),
        upper_minor=round(seen.plan.upper),
        minutes_so_far=seen.situation.minutes,
        minutes_expected=0.0 if job.closed else seen.forecast.minutes,
        next=next_step,
        why=why,
        stop_reason=stop,
        rivals=rivals,
        careful=insurance,
        contest=_contest(seen, next_step, rivals),
        suspects=suspects(seen.situation),
        options=tuple(_option(one) for one in weigh_options(seen, job)),
        warnings=(*seen.situation.warnings, *_write_off_warning(seen.situation)),
    )


def _option(o: OptionResult) -> OptionView:
    return OptionView(
        o.id, OPTIONS[o.id], o.value_minor, o.low_minor, o.high_minor, o.hinges_on, o.best, o.available,
        tuple(hinge.sentence for hinge in o.hinges), o.days, o.per_hour_minor, o.chance_best, o.chance_loss,
    )  # fmt: skip


def _contest(seen: Considered, step: Step | None, rivals: tuple[Rival, ...]) -> Contest | None:
    """What would make the runner-up the better step; None where the step is not the planner's choice."""
    first = seen.plan.first
    if step is None or not rivals or (step.kind, step.id) != (first.kind, first.id):
        return None
    if first != seen.thought.look.result().first:
        return None  # the careful step, whose runner-up would be better by the figures as they are
    both = courses(seen.situation.base, seen.prices, seen.thought, seen.forecast)
    return contest(both, seen.plan, step, rivals[0])


def _careful(seen: Considered, step: Step | None) -> Insurance | None:
    """What the careful mode would do differently, and what that costs; None where it is off or has no say."""
    choice, first = seen.choice, seen.plan.first
    if choice is None or step is None or (step.kind, step.id) != (first.kind, first.id):
        return None
    kind, which = choice.instead.kind, choice.instead.id
    title = Adviser(seen.situation, seen.thought, seen.plan).title(choice.instead)
    cost, mean, worst = (round(each) for each in (choice.cost, choice.mean, choice.worst))
    other = choice.action != choice.instead
    text = (
        told_of(title, (cost, mean, worst), seen.prices.settings.currency) if other else SAME_STEP
    )
    return Insurance(kind, which, title, cost, mean, worst, text)


def suspects(situation: Situation) -> tuple[Suspect, ...]:
    """The faults by probability, grades together, likeliest first."""
    base = situation.base
    chance = marginals(situation.probabilities, base.hypotheses)
    by_key = dict(zip(base.hypotheses.fault_ids, chance.tolist(), strict=True))
    found = []
    for fault in base.family.faults.values():
        total = sum(by_key[key] for key in fault.keys)
        if total >= SHOWN:
            grades = tuple(
                (grade.title, by_key[f"{fault.id}:{grade.id}"]) for grade in fault.grades
            )
            found.append(
                Suspect(
                    fault.id,
                    fault.title,
                    fault.means,
                    total,
                    likelihood_word(total),
                    grades,
                    fault.write_off,
                )
            )
    return tuple(sorted(found, key=lambda suspect: -suspect.probability))


def measures(prices: Prices, thought: Thought) -> Measures:
    """Minutes and parts of the actions of what was planned."""
    return measures_of(prices, thought.problem)


def measures_of(prices: Prices, problem: Problem) -> Measures:
    """Minutes and parts of the actions of a problem."""
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


def _write_off_warning(situation: Situation) -> list[str]:
    risky = [s for s in suspects(situation) if s.write_off and s.probability >= WRITE_OFF_WARNING]
    if not risky or situation.proven:
        return []
    names = " or ".join(s.title.lower() for s in risky)
    return [f"Before money goes into this machine: {names} would make it hardly worth saving."]


__all__ = ["Considered", "assess", "consider", "suspects"]
