"""The careful mode: a first step that holds up where the catalog's figures are off.

Sixteen catalogs are drawn once from the ranges in which the figures may lie (see
:mod:`perturbed_catalog`). What was found so far speaks for some of them and against others. Each
of the best first steps, with the plan that follows it, is weighed under every one of them, and the
step is taken whose mean and whose mean over the worst quarter, halved and added, are highest.

Arrays are over S catalogs and H sets of faults.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from counterpoise.reasoning.actions import Action, Plan
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.reasoning.likelihood import table_of
from counterpoise.reasoning.packing import figures_of
from counterpoise.reasoning.planning.scenario_values import ScenarioRollout, shortfall
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.evidence.standing import StandingEvidence
from counterpoise.workshop.diagnosis.family_model import FamilyModel, with_misreading
from counterpoise.workshop.diagnosis.kinds.catalog_range import (
    Plausible,
    Priors,
    plausible,
    priors,
)
from counterpoise.workshop.diagnosis.kinds.rows import Rows
from counterpoise.workshop.diagnosis.prices import Prices
from counterpoise.workshop.diagnosis.problem import PlannedProblem, index_of

WORST_SHARE = 0.25  # of the weight that counts as the worst
CAUTION = 0.5  # weight of the worst quarter against the mean
CANDIDATES = 6  # first steps weighed, besides the best check, repair and ending
# Minor units by which a step must be better to take the place of the plan's own.
LEAST_ADVANTAGE = 1.0


@dataclass(frozen=True)
class Evidence:
    """What speaks for one catalog or another: the rows planned over, and what the checks gave."""

    prices: Prices
    rows: Rows
    standing: StandingEvidence

    @property
    def model(self) -> FamilyModel:
        """The family of the machine as it is believed."""
        return self.rows.layout.model

    # What is believed is the same beside every catalog, so it is worked out once.

    @property
    def catalogs(self) -> tuple[Plausible, ...]:
        """The catalogs of the range."""
        return plausible(self.model.family)[1:]

    @cached_property
    def priors(self) -> tuple[Priors, ...]:
        """The priors as believed, then by each catalog of the range."""
        return priors(self.model, self.prices.age_years, self.rows.layout.kinds)

    @cached_property
    def likelihood(self) -> Floats:
        """(H,) likelihood of what was found since the last repair, as believed."""
        return self.likelihood_by(plausible(self.model.family)[0])

    @cached_property
    def chances(self) -> dict[str, Floats]:
        """(O, H) by check: its chances as believed, if nothing leads it astray."""
        return self.chances_by(plausible(self.model.family)[0], self.model.family.checks)

    @cached_property
    def trusted(self) -> dict[str, Floats]:
        """(H,) by check: the chance that nothing leads it astray, by what was found beside it."""
        share = self.standing.share_trusted
        return {name: share(name)[self.rows.base] for name in self.model.family.checks}

    def likelihood_by(self, catalog: Plausible) -> Floats:
        """(H,) likelihood of what was found since the last repair, by a catalog."""
        done = self.standing.readings
        # a machine that has not what was looked at shows the same by every catalog
        fit = {name: self.rows.fit(self.model.family.checks[name].needs) for name in done}
        return self.standing.likelihood_at(self.rows.base, self.chances_by(catalog, done), fit)

    def chances_by(self, catalog: Plausible, checks: Iterable[str]) -> dict[str, Floats]:
        """(O, H) by check: its chances by a catalog, if nothing leads it astray."""
        return {
            name: with_misreading(
                table_of(catalog.causes[name], self.rows.sets),
                self.model.slips[name],
            )
            for name in checks
        }


@dataclass(frozen=True)
class CarefulChoice:
    """The careful step beside the plan's own (``instead``), in minor units.

    ``cost`` is what it earns less by the catalog as written, ``mean`` what it earns more on average
    over the range, ``worst`` by how much the worst quarter of the range is better. All zero where
    both are the same step. ``index`` is the planner's index of the careful step.
    """

    action: Action
    index: int
    instead: Action
    cost: float = 0.0
    mean: float = 0.0
    worst: float = 0.0


def careful_choice(
    planned: PlannedProblem, evidence: Evidence, plan: Plan | None = None
) -> CarefulChoice:
    """The careful first step of a planned job; the plan's own where no other is clearly better.

    ``plan`` is what is advised otherwise, the planner's own where it is left out.
    """
    plan = plan or planned.look.result()
    values, weights = _values_by_catalog(planned, evidence, plan, _candidates(plan))
    # half the mean, half the worst quarter: a step that is right on average may still ruin
    scores = {action: _score(value, weights) for action, value in values.items()}
    best = max(scores, key=lambda action: scores[action])
    # advice that changes for less than a coin would flicker from finding to finding
    if scores[best] < scores[plan.first] + LEAST_ADVANTAGE:
        return CarefulChoice(plan.first, index_of(planned.problem, plan.first), plan.first)
    ours, plans_own = values[best], values[plan.first]
    # what the step costs by the catalog as written is known from the plan, without following it
    lower = next(bounds.lower for bounds in plan.action_bounds if bounds.action == best)
    return CarefulChoice(
        best,
        index_of(planned.problem, best),
        plan.first,
        plan.lower - lower,
        float(weights @ (ours - plans_own)),
        shortfall(ours, weights, WORST_SHARE) - shortfall(plans_own, weights, WORST_SHARE),
    )


def _values_by_catalog(
    planned: PlannedProblem, evidence: Evidence, plan: Plan, actions: list[Action]
) -> tuple[dict[Action, Floats], Floats]:
    """(S,) minor units of each first step under each catalog, and (S,) weights of the catalogs.

    A plan is followed until hardly anything is left, so what it is worth is known better by the
    planner: from following it comes only by how much other figures change that.
    """
    problems, beliefs, weights = _problems_by_catalog(planned.problem, evidence)
    figures = [figures_of(problem) for problem in (planned.problem, *problems)]
    lower = {bounds.action: bounds.lower for bounds in plan.action_bounds}
    # followed under all seventeen at once, since what is chosen is the same in each
    values = {}
    for action in actions:
        # row 0 follows the catalog as written, rows 1 to S the perturbed ones
        followed = ScenarioRollout(
            planned.look,
            figures,
            np.vstack([planned.problem.prior, beliefs]),
            act=index_of(planned.problem, action),
        ).worth
        values[action] = lower.get(action, plan.lower) + followed[1:] - followed[0]
    return values, weights


def with_first(plan: Plan, action: Action) -> Plan:
    """The plan with another step first; its value is then that step's lower bound."""
    if action == plan.first:
        return plan
    chosen = next(bounds for bounds in plan.action_bounds if bounds.action == action)
    others = tuple(bounds for bounds in plan.action_bounds if bounds != chosen)
    return replace(plan, lower=chosen.lower, first=action, action_bounds=(chosen, *others))


def _score(values: Floats, weights: Floats) -> float:
    mean, worst = float(weights @ values), shortfall(values, weights, WORST_SHARE)
    return (1.0 - CAUTION) * mean + CAUTION * worst


def _candidates(plan: Plan) -> list[Action]:
    """The plan's first step, its best rivals, and the best of each kind, each once."""
    ranked = [bounds.action for bounds in plan.action_bounds if bounds.action.kind != "exhausted"]
    chosen = ranked[:CANDIDATES]
    # where six checks rank first, stopping must still be weighed
    for kind in ("check", "repair", "ending"):
        chosen += [action for action in ranked if action.kind == kind][:1]
    return list(dict.fromkeys([plan.first, *chosen]))


def _problems_by_catalog(
    problem: Problem, evidence: Evidence
) -> tuple[list[Problem], Floats, Floats]:
    """The problem under each catalog, (S, H) belief under each, (S,) weights by Bayes' rule."""
    problems, beliefs, weights = [], [], []
    for catalog, theirs in zip(evidence.catalogs, evidence.priors[1:], strict=True):
        belief = problem.prior * _likelihood_ratio(evidence, catalog, theirs)
        weights.append(float(belief.sum()))
        beliefs.append(belief / belief.sum())
        problems.append(_repriced(problem, catalog, evidence))
    # an overall factor is common to all catalogs and drops out
    total = np.array(weights)
    return problems, np.array(beliefs), total / total.sum()


def _likelihood_ratio(evidence: Evidence, catalog: Plausible, theirs: Priors) -> Floats:
    """(H,) by how much the evidence is likelier under this catalog than under the one believed.

    After a repair, only what was found since counts, and the priors of the faults that may be left.
    """
    ours = evidence.priors[0]
    # both priors are scaled to sum to one over all sets but the empty one
    by_kind = [
        _prior_ratio(evidence, *odds) * scale
        for *odds, scale in zip(ours.odds, theirs.odds, ours.mass / theirs.mass, strict=True)
    ]
    # the kinds within a row as they are believed: a catalog's figures say nothing of them
    shift = np.asarray((np.array(by_kind) * evidence.rows.share).sum(axis=0))
    now, then = evidence.likelihood_by(catalog), evidence.likelihood
    # what the evidence rules out under the believed catalog has no chance to be changed
    return np.divide(shift * now, then, out=np.zeros_like(then), where=then > 0.0)


def _prior_ratio(evidence: Evidence, ours: Floats, theirs: Floats) -> Floats:
    """(H,) by how much the odds of each row's faults are larger: (F,) odds of one kind."""
    # a fault that this machine cannot have keeps its ratio of 1
    ratio = np.divide(theirs, ours, out=np.ones_like(ours), where=ours > 0)
    return evidence.rows.sets.product_over(ratio)


def _next_tables(problem: Problem, catalog: Plausible, evidence: Evidence) -> tuple[Floats, ...]:
    """(O, H) by check of the problem: its chances now, if this catalog is right."""
    rows, names = evidence.rows, [check.id for check in problem.checks]
    family = catalog.family
    ours, theirs = evidence.chances, evidence.chances_by(catalog, names)
    tables = []
    for name, table in zip(names, problem.tables, strict=True):
        # a repeat shows mostly what was shown, and what a machine is was not drawn anew
        if name in evidence.standing.readings or family.checks[name].tells:
            tables.append(table)
            continue
        # where something leads a check astray, it does so by either catalog
        change = (
            evidence.trusted[name]
            * rows.fit(family.checks[name].needs)
            * (theirs[name] - ours[name])
        )
        # one outcome more where it may be that there is no such thing
        shifted = table.copy()
        shifted[: len(change)] = np.maximum(table[: len(change)] + change, 0.0)
        tables.append(shifted)
    return tuple(tables)


def _repriced(problem: Problem, catalog: Plausible, evidence: Evidence) -> Problem:
    """The problem with the chances and minutes of another catalog."""
    # rates, parts and resale stay: only minutes are the other catalog's
    family = catalog.family
    theirs = replace(evidence.prices, family=family)
    # same checks in the same order, so that the plan's indices hold under every catalog
    checks = [family.checks[check.id] for check in problem.checks]
    return replace(
        problem,
        checks=tuple(
            replace(check, cost=theirs.check_cost(entry))
            for check, entry in zip(problem.checks, checks, strict=True)
        ),
        tables=_next_tables(problem, catalog, evidence),
        repairs=tuple(
            replace(repair, cost=theirs.repair_cost(family.repairs[repair.id]))
            for repair in problem.repairs
        ),
        access=theirs.panels(),
    )
