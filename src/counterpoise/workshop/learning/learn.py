"""All that closed jobs of a family teach, from the jobs to the figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.learning.applied import learned_family
from counterpoise.workshop.learning.counts import (
    cure_figures,
    pace_figures,
    row_figures,
    sale_figures,
)
from counterpoise.workshop.learning.facts import JobFacts, facts_of
from counterpoise.workshop.learning.learned import (
    FaultRates,
    LearnedFigure,
    fault_rates,
    weights_of,
)
from counterpoise.workshop.learning.strengths import LEAST_JOBS


@dataclass(frozen=True)
class Learned:
    """The figures learned of a family, those that moved most first, from ``jobs`` closed ones.

    ``moves``: largest relative move in each round of EM; ``settled``: the last moved next to none.
    """

    family: str
    jobs: int
    figures: tuple[LearnedFigure, ...] = ()
    moves: tuple[float, ...] = ()
    settled: bool = True


def facts_of_jobs(family: Family, settings: Settings, jobs: Iterable[Job]) -> list[JobFacts]:
    """What each closed job says, by time of closing; open ones and other families are left out."""
    facts = [
        each
        for job in jobs
        if job.intake.family == family.id and (each := facts_of(family, settings, job))
    ]
    return sorted(facts, key=lambda each: (each.closed_at, each.number))


def learn(
    family: Family,
    settings: Settings,
    facts: Sequence[JobFacts],
    half_life: float | None = None,
    least: int = LEAST_JOBS,
) -> Learned:
    """The figures after these jobs, by the written ``family``; none below ``least`` jobs."""
    # a job that nobody put a hand to teaches nothing, and counts among none that did
    facts = [fact for fact in facts if fact.looked]
    if len(facts) < max(1, least):
        return Learned(family.id, len(facts))
    rates, shares = fault_rates(family, facts, half_life), weights_of(facts, half_life)
    figures = [
        *rates.figures(family, facts),
        *row_figures(family, facts, rates, shares),
        *cure_figures(family, facts, shares),
        *pace_figures(family, facts, shares),
        *sale_figures(family, settings, facts, shares),
    ]
    # how far it moved in its own errors, more or less: what is worth a look stands first
    figures.sort(key=lambda each: (-abs(each.moved) * np.sqrt(each.worth), each.place))
    moves = rates.rates.moves
    return Learned(family.id, len(facts), tuple(figures), moves, rates.rates.settled)


__all__ = [
    "FaultRates",
    "JobFacts",
    "Learned",
    "LearnedFigure",
    "facts_of_jobs",
    "learn",
    "learned_family",
]
