"""Where a virtual job stands, as a way of working sees it: what was put down, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from counterpoise.catalog.family import Family, Feature
from counterpoise.reasoning.actions import Action
from counterpoise.reasoning.planning.lookahead import Effort, Lookahead
from counterpoise.reasoning.problem import Problem
from counterpoise.workshop.diagnosis.family_model import cached_by_family
from counterpoise.workshop.diagnosis.job_case import JobCase
from counterpoise.workshop.diagnosis.kinds.rows import Rows, likely_rows
from counterpoise.workshop.diagnosis.problem import MAX_DROPPED, PlannedProblem, build_problem
from counterpoise.workshop.diagnosis.robust import Evidence
from counterpoise.workshop.jobs.entries import (
    COULD_NOT_TELL,
    NOT_THERE,
    Body,
    Entry,
    Finding,
    Intake,
    Job,
    RepairDone,
)

# Sets of faults planned over: half of what the bench page does, so that a study ends.
STUDY_MAX_SETS = 150


@dataclass(frozen=True)
class Stand:
    """A job where it stands; what is believed and planned over is worked out when asked for.

    A way of working that remembers what it decided here asks for nothing.
    """

    case: JobCase

    @cached_property
    def _likely(self) -> tuple[Rows, float]:
        situation = self.case.situation
        return likely_rows(
            situation.model,
            situation.kinds,
            situation.joint,
            share_dropped=MAX_DROPPED,
            most=STUDY_MAX_SETS,
        )

    @cached_property
    def problem(self) -> Problem:
        """What there is to decide, over the likeliest kinds and sets of faults."""
        case, rows = self.case, self._likely[0]
        return build_problem(case.situation, case.settings, case.supply, rows)

    def planned(self, effort: Effort, *, ratio_only: bool = False) -> PlannedProblem:
        """The problem planned; ``ratio_only``: one step ahead of plain repairing."""
        # unlikely first steps are pruned: a study makes some fifty decisions a job
        look = Lookahead(self.problem, ratio_only=ratio_only, prune_unlikely=True)
        look.plan(effort)
        rows, dropped = self._likely
        return PlannedProblem(self.problem, look, dropped, rows)

    @property
    def evidence(self) -> Evidence:
        """What speaks for one catalog or another."""
        return Evidence(self.case.prices, self._likely[0], self.case.situation.evidence)

    def as_before(self) -> Stand:
        """The same job by the rules of 0.1.0.

        A feature that nobody put down is what most machines have, a repeat takes the place of the
        finding before it, findings are independent, and "there is none" teaches nothing.
        """
        case = self.case
        family = _findings_alone(case.family)
        usual = _usual(family, case.job.intake.features)
        bodies = [_before(body, usual) for body in _last_of_each(case.job)]
        entries = tuple(Entry(i, case.job.entries[0].at, "", b) for i, b in enumerate(bodies, 1))
        stand = Stand(JobCase(Job(case.job.number, entries), family, case.settings))
        situation = stand.case.situation
        # no check was ever done again for the sake of what it contradicts
        done = [each.id in situation.done for each in stand.problem.checks]
        bits = sum(1 << i for i, was in enumerate(done) if was)
        stand.__dict__["problem"] = replace(stand.problem, done=bits)
        return stand


Policy = Callable[[Stand, tuple[str, ...]], Action]


@cached_by_family
def _findings_alone(family: Family) -> Family:
    """The catalog without what makes findings hang together."""
    return replace(family, same_thing={})


def _usual(family: Family, put_down: Mapping[str, str]) -> dict[str, str]:
    """Every feature of a machine: as it was put down, else the commonest value."""
    usual: dict[str, str] = {}
    for name, feature in family.features.items():
        if any(usual[other] != value for other, value in feature.needs.items()):
            usual[name] = feature.others
        else:
            usual[name] = put_down.get(name, _commonest(feature))
    return usual


def _commonest(feature: Feature) -> str:
    return max(feature.share, key=lambda value: feature.share[value])


def _last_of_each(job: Job) -> list[Body]:
    """What was put down, with the last reading alone of each check between two repairs."""
    kept: list[Body] = []
    for entry in job.entries:
        body = entry.body
        if isinstance(body, Finding):
            since = max((i for i, b in enumerate(kept) if isinstance(b, RepairDone)), default=0)
            again = [b for b in kept[since:] if isinstance(b, Finding) and b.check == body.check]
            kept = [b for b in kept if not any(b is each for each in again)]
        kept.append(body)
    return kept


def _before(body: Body, features: dict[str, str]) -> Body:
    if isinstance(body, Intake):
        return replace(body, features=features)
    if isinstance(body, Finding) and body.outcome == NOT_THERE:
        return replace(body, outcome=COULD_NOT_TELL)
    return body
