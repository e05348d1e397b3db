"""The careful mode: a first step that holds up where the catalog's figures are off.

Sixteen catalogs are drawn once from the ranges in which the figures may lie (see ``perturb.py``). What was found so far
speaks for some of them and against others. Each of the best first steps, with the plan that follows it, is weighed
under every one of them, and the step is taken whose mean and whose mean over the worst quarter, halved and added, are
highest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import independent_priors
from counterpoise.reasoning.actions import Action, Plan
from counterpoise.reasoning.hypotheses import Floats, Hypotheses
from counterpoise.reasoning.likelihood import outcome_table
from counterpoise.reasoning.planning.scenario_values import ScenarioRollout, shortfall
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import Base, abstract_check, remembered, slipped
from counterpoise.workshop.diagnosis.perturbed_catalog import perturbed
from counterpoise.workshop.diagnosis.problem import Prices, Thought, number_of

CATALOGS = 16
SEED = 20  # of the catalogs drawn: the same for every job, so that the advice does not flicker
WORST = 0.25  # share of the weight that counts as the worst
CAUTION = 0.5  # weight of the worst quarter against the mean
CANDIDATES = 6  # first steps weighed, besides the best check, repair and ending
SAME = 1.0  # minor units; a step must be this much better to take the place of the plan's own


@dataclass(frozen=True)
class Machine:
    """What the range is worked out for: a family laid out, prices, and what is known of the machine.

    ``found`` holds, for each check whose finding counts, (O,) how well each outcome fits what was found.
    """

    base: Base
    prices: Prices
    features: Mapping[str, str]
    found: Mapping[str, Floats]


@dataclass(frozen=True)
class Choice:
    """The careful step beside the plan's own.

    ``cost`` is what it earns less by the catalog as written, ``mean`` what it earns more on average over the range,
    ``worst`` by how much the worst quarter of the range is better. All zero where both are the same step.
    """

    action: Action
    number: int
    instead: Action
    cost: float = 0.0
    mean: float = 0.0
    worst: float = 0.0


def choose(thought: Thought, machine: Machine) -> Choice:
    """The careful first step of a job that was planned."""
    plan = thought.look.result()
    worth, weights = _worth(thought, machine, _candidates(plan))
    scores = {action: _score(each, weights) for action, each in worth.items()}
    best = max(scores, key=lambda action: scores[action])
    if scores[best] < scores[plan.first] + SAME:
        return Choice(plan.first, number_of(thought.problem, plan.first), plan.first)
    here, there = worth[best], worth[plan.first]
    lower = next(one.lower for one in plan.action_bounds if one.action == best)
    return Choice(
        best,
        number_of(thought.problem, best),
        plan.first,
        plan.lower - lower,
        float(weights @ (here - there)),
        shortfall(here, weights, WORST) - shortfall(there, weights, WORST),
    )


def _worth(
    thought: Thought, machine: Machine, actions: list[Action]
) -> tuple[dict[Action, Floats], Floats]:
    """(S,) what each first step earns under each catalog, and (S,) how much each catalog counts.

    A plan is followed until hardly anything is left, so what it is worth is known better by the planner: from following
    it comes only by how much other figures change that.
    """
    figures, beliefs, weights = _ranged(thought.problem, machine)
    packed = [thought.problem.arrays(), *(one.arrays() for one in figures)]
    plan = thought.look.result()
    known = {one.action: one.lower for one in plan.action_bounds}
    worth = {}
    for action in actions:
        found = ScenarioRollout(
            thought.look,
            packed,
            np.vstack([thought.problem.prior, beliefs]),
            act=number_of(thought.problem, action),
        ).worth
        worth[action] = known.get(action, plan.lower) + found[1:] - found[0]
    return worth, weights


def preferring(plan: Plan, choice: Choice) -> Plan:
    """The plan with the careful step first."""
    if choice.action == plan.first:
        return plan
    chosen = next(one for one in plan.action_bounds if one.action == choice.action)
    others = tuple(one for one in plan.action_bounds if one != chosen)
    return replace(plan, lower=chosen.lower, first=choice.action, action_bounds=(chosen, *others))


def _score(worth: Floats, weights: Floats) -> float:
    return (1.0 - CAUTION) * float(weights @ worth) + CAUTION * shortfall(worth, weights, WORST)


def _candidates(plan: Plan) -> list[Action]:
    ranked = [one.action for one in plan.action_bounds if one.action.kind != "exhausted"]
    chosen = ranked[:CANDIDATES]
    for kind in ("check", "repair", "ending"):
        chosen += [action for action in ranked if action.kind == kind][:1]
    return list(dict.fromkeys([plan.first, *chosen]))


@remembered
def catalogs(family: Family) -> tuple[Family, ...]:
    """The catalogs of the range, drawn once."""
    return tuple(perturbed(family, np.random.default_rng([SEED, i])) for i in range(CATALOGS))


def _ranged(problem: Problem, machine: Machine) -> tuple[list[Problem], Floats, Floats]:
    """The problem under each catalog, (S, H) what is believed under each, and (S,) how much each counts."""
    figures, beliefs, weights = [], [], []
    for family in catalogs(machine.base.family):
        belief = problem.prior * _shift(problem.hypotheses, machine, family)
        weights.append(float(belief.sum()))
        beliefs.append(belief / belief.sum())
        figures.append(_priced(problem, family, machine.prices))
    total = np.array(weights)
    return figures, np.array(beliefs), total / total.sum()


def _shift(hypotheses: Hypotheses, machine: Machine, family: Family) -> Floats:
    """(H,) by how much what was told and found is likelier under this catalog than under the one believed.

    After a repair, only what was found since counts, and the priors of the faults that may be left.
    """
    base = machine.base
    ours, theirs = (_odds(one, base, machine) for one in (base.family, family))
    ratio = np.divide(theirs, ours, out=np.ones_like(ours), where=ours > 0)
    everything = (
        base.hypotheses.product_over(ours)[1:].sum()
        / base.hypotheses.product_over(theirs)[1:].sum()
    )
    shift = np.asarray(hypotheses.product_over(ratio) * everything)
    for name, weights in machine.found.items():
        now, then = (
            weights @ slipped(outcome_table(abstract_check(one.checks[name]), hypotheses))
            for one in (family, base.family)
        )
        shift *= now / then
    return shift


def _odds(family: Family, base: Base, machine: Machine) -> Floats:
    priors = independent_priors(
        family, age_years=machine.prices.age_years, features=machine.features
    )
    chance = np.array([priors.get(key, 0.0) for key in base.hypotheses.fault_ids])
    return np.asarray(chance / (1.0 - chance))


def _priced(problem: Problem, family: Family, prices: Prices) -> Problem:
    """The problem with the chances and minutes of another catalog."""
    theirs = replace(prices, family=family)
    checks = [family.checks[check.id] for check in problem.checks]
    return replace(
        problem,
        checks=tuple(
            replace(c, cost=theirs.check_cost(e))
            for c, e in zip(problem.checks, checks, strict=True)
        ),
        tables=tuple(
            slipped(outcome_table(abstract_check(entry), problem.hypotheses)) for entry in checks
        ),
        repairs=tuple(
            replace(r, cost=theirs.repair_cost(family.repairs[r.id])) for r in problem.repairs
        ),
        access=theirs.panels(),
    )
