"""A job as the planner's problem: what each check and repair costs, what each ending is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import CheckEntry, RepairEntry
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.hypotheses import Floats, Hypotheses
from counterpoise.reasoning.model import Ending
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import fits, within_reach
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.replay import Situation
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NO_SUPPLY, Supply

# Share of belief left out in sets of faults too rare to plan for: a plan over every set would take
# far longer for hardly another step. What is left out is told (PlannedProblem.dropped).
MAX_DROPPED = 0.004
# However flat the belief is, no more sets than this: planning time grows with them.
MAX_SETS = 320
WORKING_ENDING = {"workshop": "repair_resell", "customer": "repair_hand_back"}


def build_problem(situation: Situation, settings: Settings, supply: Supply = NO_SUPPLY) -> Problem:
    """What there is to decide now, over every set of faults; values in minor units."""
    model, family = situation.model, situation.family
    prices = Prices.of(situation, settings, supply)
    # a check done since the last repair would show the same again: it is no longer offered
    checks = [
        entry
        for entry in family.checks.values()
        if entry.id not in situation.done and can_be_done(entry, situation, settings)
    ]
    # nor is a repair that was tried: the planner takes what it did not cure as not curable by it
    repairs = [
        entry
        for entry in family.repairs.values()
        if entry.id not in situation.tried and can_be_done(entry, situation, settings)
    ]
    endings, values = ending_values(situation, prices)
    # a machine that comes back has not earned what a sound one does, and costs the way, the bench
    # and the good name
    comeback = max(0.0, prices.working) + settings.comeback_minor
    opened = sum(1 << i for i, name in enumerate(family.access) if name in situation.opened)
    return Problem(
        hypotheses=model.hypotheses,
        prior=situation.probabilities,
        checks=tuple(replace(model.checks[e.id], cost=prices.check_cost(e)) for e in checks),
        repairs=tuple(replace(model.repairs[e.id], cost=prices.repair_cost(e)) for e in repairs),
        access=prices.panels(),
        endings=endings,
        # the customer pays for the proof of a repair, so it is labour at the repair rate
        retest=model.proof.retest(family.proof_minutes * prices.repair_minute, comeback),
        working=prices.working,
        tables=tuple(model.tables[e.id] for e in checks),
        transitions=tuple(model.transitions[e.id] for e in repairs),
        ending_values=values,
        # the planner leaves these open to its end, also over a proof that fails
        opened=opened,
    )


def can_be_done(entry: CheckEntry | RepairEntry, situation: Situation, settings: Settings) -> bool:
    """Whether it fits the machine, and the workshop has the hands and the tools for it."""
    return fits(entry.needs, situation.intake.features) and within_reach(
        entry, settings.people, settings.tools
    )


def ending_values(situation: Situation, prices: Prices) -> tuple[tuple[Ending, ...], Floats]:
    """The ways to stop short of a repair, with (E, H) what each is worth under each set of faults.

    In minor units. For the workshop's own machine what it fetches; for a customer's, what is gained
    over buying a new machine now.
    """
    # what an ending brings hangs on what is wrong for parting out only
    count = len(situation.model.hypotheses.sets)
    if situation.intake.owner == "workshop":
        # a machine sold as it is takes as long to sell as a repaired one
        selling = prices.as_is - prices.settings.selling_minutes * prices.minute
        rows = {
            "sell_as_is": np.full(count, selling),
            "part_out": parting_value(situation, prices, situation.model.hypotheses)
            + prices.settings.scrap_minor,
            "scrap": np.full(count, float(prices.settings.scrap_minor)),
        }
    else:
        # being left with a broken machine gains nothing over buying either; one minor unit less
        # breaks the tie
        rows = {"replace": np.zeros(count), "hand_back": np.full(count, -1.0)}
    return tuple(Ending(name) for name in rows), np.array(list(rows.values()))


def parting_value(situation: Situation, prices: Prices, hypotheses: Hypotheses) -> Floats:
    """(H,) minor units that stripping the machine yields: each good assembly that pays."""
    value = np.zeros(len(hypotheses.sets))
    features = situation.intake.features
    for assembly in prices.family.assemblies.values():
        if not fits(assembly.needs, features):
            continue
        # where it is not known whether the machine has such an assembly, as often as machines do
        share = 1.0
        for feature, needed in assembly.needs.items():
            if feature not in features:
                share *= prices.family.features[feature].share[needed]
        good = hypotheses.product_over(
            np.array([1.0 - assembly.spoiled_by.get(k, 0.0) for k in hypotheses.fault_ids])
        )
        value += share * max(0.0, prices.assembly_minor(assembly)) * good
    return value


@dataclass(frozen=True)
class PlannedProblem:
    """A problem over the likeliest sets of faults, planned; ``dropped``: share left out."""

    problem: Problem
    look: Lookahead
    dropped: float


def plan_problem(problem: Problem, effort: Effort) -> PlannedProblem:
    """Plan over the likeliest sets of faults, as thoroughly as ``effort`` says."""
    # paired: two first steps at once on two cores, with the same result
    smaller, dropped = problem.narrowed(MAX_DROPPED, MAX_SETS)
    look = Lookahead(smaller, pair=True)
    look.plan(effort)
    return PlannedProblem(smaller, look, float(dropped.sum()))


def index_of(problem: Problem, action: Action) -> int:
    """The planner's index of an action: checks, then repairs, then endings. Raises ValueError."""
    checks, repairs = [c.id for c in problem.checks], [r.id for r in problem.repairs]
    if action.kind == "check":
        return checks.index(action.id)
    if action.kind == "repair":
        return len(checks) + repairs.index(action.id)
    return len(checks) + len(repairs) + [e.id for e in problem.endings].index(action.id)
