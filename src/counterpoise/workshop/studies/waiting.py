"""The planner as at the bench: what cannot be undone is weighed with care, and waits for a hand."""

from __future__ import annotations

import math

from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.belief import marginals
from counterpoise.reasoning.problem import Problem, panels_needed
from counterpoise.workshop.diagnosis.family_model import BY_KIND, family_model
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED
from counterpoise.workshop.diagnosis.ways.irreversible import Bench, cannot_be_undone, touch_first
from counterpoise.workshop.jobs.entries import NOT_THERE
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.studies.policies import STUDY_MAX_SETS, Policy


def waiting_policy(family: Family, settings: Settings, plan: Policy, careful: Policy) -> Policy:
    """The policy ``plan``, held back before what cannot be undone as the bench page holds it.

    ``careful`` chooses there; what it chooses waits for a check by hand where one is near.
    """
    model = family_model(family)

    def policy(problem: Problem, history: tuple[str, ...]) -> Action:
        action = plan(problem, history)
        if not cannot_be_undone(problem, action, settings):
            return action
        action = careful(problem, history)
        if not cannot_be_undone(problem, action, settings):
            return action
        smaller, _ = problem.narrowed(MAX_DROPPED, STUDY_MAX_SETS)
        bench = Bench(
            model,
            smaller,
            settings,
            chances_by_key(problem),
            told_in(history, family),
            lambda entry: _minutes(family, problem, entry),
        )
        touch = touch_first(bench, action)
        return Action("check", touch.check) if touch else action

    return policy


def chances_by_key(problem: Problem) -> dict[str, float]:
    """The chance of each fault key, whatever the kind of machine it is told apart by."""
    chances: dict[str, float] = {}
    by_name = marginals(problem.prior, problem.hypotheses).tolist()
    for name, chance in zip(problem.hypotheses.fault_ids, by_name, strict=True):
        key = name.partition(BY_KIND)[0]
        chances[key] = chances.get(key, 0.0) + chance
    return chances


def told_in(history: tuple[str, ...], family: Family) -> frozenset[str]:
    """Ids of the checks since the last repair that told something, from a history."""
    names: set[str] = set()
    for name, _, outcome in (line.partition("=") for line in history[1:]):
        if name not in family.checks:
            # a repair: what was found before it speaks of the machine as it was
            names = set()
        elif outcome != NOT_THERE:
            names.add(name)
    return frozenset(names)


def _minutes(family: Family, problem: Problem, entry: CheckEntry) -> float:
    """Minutes of a check with opening and closing; infinite where it was done already."""
    index = [check.id for check in problem.checks].index(entry.id)
    if problem.done >> index & 1:
        return math.inf
    # a spin shuts what stands open, and its own way is opened anew
    still_open = 0 if problem.checks[index].shuts else problem.opened
    missing = panels_needed(problem.access, entry.access) & ~still_open
    panels = [family.access[panel.id] for panel in problem.access]
    return entry.minutes + sum(
        panel.open_min + panel.close_min for i, panel in enumerate(panels) if missing >> i & 1
    )
