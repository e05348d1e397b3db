"""The step to begin with: the plan's own, unless care or a hand comes before it.

What cannot be undone is weighed over the plausible catalogs, whatever the settings say of the
careful mode, and waits until somebody has touched what speaks for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from counterpoise.catalog.family import CheckEntry
from counterpoise.reasoning.actions import Action, ActionBounds, Plan
from counterpoise.reasoning.kernels.bounds import check_opening
from counterpoise.reasoning.planning.lookahead import Effort
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.evidence.contradictions import Contradiction
from counterpoise.workshop.diagnosis.hazards import must_not_run
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.phrases import amount, minutes_text
from counterpoise.workshop.diagnosis.problem import (
    WORKING_ENDING,
    PlannedProblem,
    index_of,
    plan_problem,
)
from counterpoise.workshop.diagnosis.steps import StepBuilder
from counterpoise.workshop.diagnosis.ways.at_stake import at_stake
from counterpoise.workshop.diagnosis.ways.irreversible import (
    cannot_be_undone,
    clearing_check,
    touch_first,
)
from counterpoise.workshop.diagnosis.ways.touch import Bench, Touch, at_the_machine
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    COULD_NOT_TELL,
    NOT_THERE,
    Finding,
    Job,
    Proof,
    RepairDone,
)
from counterpoise.workshop.jobs.entry_checks import OPTIONS

# A contradiction holds up what cannot be undone where it turns the chance of a fault by as much.
MATTERS = 0.1
# A check waits for no machine that is more likely than not without the thing to be checked.
LIKELY_FIT = 0.5


@dataclass(frozen=True)
class Held:
    """What cannot be undone and waits for the check ``touch``.

    ``again``: the contradiction for whose sake that check is done a second time, None for none.
    ``proof``: what waits is the proof of a repair, since the machine must not be run yet.
    ``lost``: what ``action`` would throw away on average, in minor units, where that is why.
    """

    action: Action
    touch: Touch
    again: Contradiction | None = None
    proof: bool = False
    lost: float = 0.0


def held_back(case: JobCase, planned: PlannedProblem, action: Action) -> Held | None:
    """What waits for a check before ``action``; None where that need not wait."""
    return held_by_hand(case, planned, action) or held_to_look(case, planned.problem, action)


def held_by_hand(case: JobCase, planned: PlannedProblem, action: Action) -> Held | None:
    """What waits for a hand on what speaks for it, or for a second reading; None for neither."""
    situation = case.situation
    # a proof that must not be run waits for the check that clears it
    if situation.proof_due and action.kind != "repair" and (barred := must_not_run(situation)):
        keys = frozenset(key for each in barred for key in case.family.faults[each.fault].keys)
        clearing = clearing_check(bench_of(case, planned), keys)
        return Held(planned.look.result().first, clearing, proof=True) if clearing else None
    if _settled(case) or not cannot_be_undone(planned.problem, action, case.settings):
        return None
    touch = touch_first(bench_of(case, planned), action)
    return Held(action, touch) if touch else _held_to_repeat(case, planned, action)


def held_to_look(case: JobCase, problem: Problem, action: Action) -> Held | None:
    """The check that tells most of what ``action`` would throw away, where that is much."""
    # at no minutes at all nothing waits
    if _settled(case) or case.settings.touch_minutes <= 0.0:
        return None
    checks = case.family.checks
    barred = must_not_run(case.situation)
    never = frozenset(check.id for check in problem.checks if barred and checks[check.id].runs)
    stake = at_stake(problem, action, never)
    if stake is None:
        return None
    minutes = StepBuilder.of(case.situation).minutes(checks[stake.check])
    return Held(action, Touch(stake.check, minutes, ()), lost=stake.lost)


def _settled(case: JobCase) -> bool:
    """Whether evidence settles what comes: a repair is proved, a decision carried out."""
    situation = case.situation
    return bool(
        situation.proof_due or situation.proven or case.job.closed or decided_ending(case.job)
    )


def _held_to_repeat(case: JobCase, planned: PlannedProblem, action: Action) -> Held | None:
    """The cheapest check of a contradiction that matters, to be done again before ``action``."""
    situation, minutes = case.situation, StepBuilder.of(case.situation).minutes
    offered = {check.id for check in planned.problem.checks} & situation.again
    if must_not_run(situation):
        offered = {name for name in offered if not case.family.checks[name].runs}
    for each in situation.contradictions:
        left = sorted(offered.intersection(each.checks))
        # a finding that bears on nothing may be as strange as it likes
        if left and each.moves >= MATTERS:
            cheapest = min(left, key=lambda name: minutes(case.family.checks[name]))
            took = minutes(case.family.checks[cheapest])
            if took <= case.settings.touch_minutes:
                return Held(action, Touch(cheapest, took, ()), each)
    return None


def decided_ending(job: Job) -> str:
    """The id of the ending that was decided; empty for none, or where it was to repair."""
    # a decision to repair leaves the plan free to say which repair; any other ends the work
    decision = job.decision
    return decision.option if decision and decision.option not in WORKING_ENDING.values() else ""


def bench_of(case: JobCase, planned: PlannedProblem) -> Bench:
    """The job as the gate before what cannot be undone looks at it."""
    situation = case.situation
    minutes = StepBuilder.of(situation).minutes

    def minutes_here(entry: CheckEntry) -> float:
        # what this machine probably does not have cannot be touched
        return minutes(entry) if situation.fit(entry.needs) >= LIKELY_FIT else math.inf

    return Bench(
        situation.model,
        planned.problem,
        case.settings,
        situation.key_chances,
        told_since_repair(case.job),
        minutes_here,
        only_heard_of(case),
        bool(must_not_run(situation)),
    )


def only_heard_of(case: JobCase) -> bool:
    """Whether nobody has done anything at the machine itself: no look, no spin, no repair."""
    checks = case.family.checks
    return not any(
        isinstance(entry.body, RepairDone | Proof)
        or (isinstance(entry.body, Finding) and at_the_machine(checks[entry.body.check]))
        for entry in case.job.standing
    )


def told_since_repair(job: Job) -> frozenset[str]:
    """Ids of the checks whose findings told something of the machine as it is now."""
    names: set[str] = set()
    for entry in job.standing:
        if isinstance(entry.body, RepairDone | Proof) or entry.number <= job.came_back:
            names = set()
        elif isinstance(entry.body, Finding):
            names.add(entry.body.check)
            # who could not reach it, or found none there, has not touched it
            if entry.body.outcome in {COULD_NOT_TELL, CANNOT_REACH, NOT_THERE}:
                names.discard(entry.body.check)
    return frozenset(names)


def beginning_with(planned: PlannedProblem, plan: Plan, check: str) -> Plan:
    """The plan with a check before it, whatever it shows; its value is less by what that costs."""
    action = Action("check", check)
    chosen = next((each for each in plan.action_bounds if each.action == action), None)
    if chosen is None:
        # the plan leaves out what could not pay; whoever does it all the same goes on as planned
        index = index_of(planned.problem, action)
        opening = check_opening(planned.look.arrays, index, planned.problem.opened)
        price = planned.problem.checks[index].cost + opening
        chosen = ActionBounds(action, plan.lower - price, plan.upper)
    others = tuple(each for each in plan.action_bounds if each.action != action)
    upper = max(chosen.lower, chosen.upper)
    bounds = (chosen, *others)
    return replace(plan, lower=chosen.lower, upper=upper, first=action, action_bounds=bounds)


def held_text(held: Held, title: str, currency: str) -> str:
    """Why the check ``held.touch`` comes first; ``title`` is that of what waits for it."""
    if held.lost:
        return (
            f'"{title}" cannot be undone, and by what is known so far it throws away'
            f" {amount(round(held.lost), currency)} on average of what is worth saving. This check"
            f" takes {minutes_text(held.touch.minutes)} and tells most of that for its cost."
        )
    if not held.touch.faults and not held.again:
        return (
            f'"{title}" cannot be undone, and so far one has only heard of this machine. This check'
            f" takes {minutes_text(held.touch.minutes)} and goes first."
        )
    weight = "is dear" if held.action.kind == "repair" else "cannot be undone"
    if held.again:
        return (
            f'"{title}" {weight}, and two findings that it rests on hardly go together. This check'
            f" takes {minutes_text(held.touch.minutes)} and is done again first."
        )
    return (
        f'"{title}" {weight}, and nobody has put a hand to what it rests on:'
        f" {' or '.join(held.touch.faults[:2])}."
        f" This check takes {minutes_text(held.touch.minutes)} and goes first."
    )


def untouched_text(case: JobCase, planned: PlannedProblem, option: str) -> str:
    """What nobody has touched yet before a way that cannot be undone; empty where nothing is."""
    action = Action("ending", option)
    if option not in {each.id for each in planned.problem.endings}:
        return ""
    if not cannot_be_undone(planned.problem, action, case.settings):
        return ""
    touch = touch_first(bench_of(case, planned), action)
    if touch is None:
        return ""
    check = case.family.checks[touch.check]
    rests_on = (
        f"nobody has put a hand to what it rests on: {' or '.join(touch.faults[:2])}"
        if touch.faults
        else "so far one has only heard of this machine"
    )
    return (
        f"{OPTIONS[option]} cannot be undone, and {rests_on}."
        f' "{check.title}" takes {minutes_text(touch.minutes)}.'
    )


def untouched_texts(case: JobCase) -> dict[str, str]:
    """By the id of an ending that cannot be undone, what nobody has touched before it."""
    settings, situation = case.settings, case.situation
    # no steps are planned: only what is wrong, and what that is worth
    planned = plan_problem(situation, settings, case.supply, Effort(growths=0))
    endings = [each.id for each in planned.problem.endings]
    texts = {ending: untouched_text(case, planned, ending) for ending in endings}
    return {ending: text for ending, text in texts.items() if text}


def untouched_warning(case: JobCase, planned: PlannedProblem) -> tuple[str, ...]:
    """What nobody has touched before the ending that was decided, still to be carried out."""
    ending = "" if case.job.closed else decided_ending(case.job)
    text = untouched_text(case, planned, ending) if ending else ""
    return (text,) if text else ()
