"""All that closed jobs of a family teach, from the jobs to the figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.learning.pooling import Start
from counterpoise.learning.readers import Calibration
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
    NO_STARTS,
    FaultRates,
    LearnedFigure,
    fault_rates,
    weights_of,
)
from counterpoise.workshop.learning.pool.figures import written_shares
from counterpoise.workshop.learning.spin_reader import as_set, set_reader
from counterpoise.workshop.learning.strengths import LEAST_JOBS


@dataclass(frozen=True)
class Learned:
    """The figures learned of a family, those that moved most first, from ``jobs`` closed ones.

    ``moves``: largest relative move in each round of EM; ``settled``: the last moved next to none.
    ``reader``: how sure that of spins may be; None where no job has a recording.
    """

    family: str
    jobs: int
    figures: tuple[LearnedFigure, ...] = ()
    moves: tuple[float, ...] = ()
    settled: bool = True
    reader: Calibration | None = None


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
    starts: Mapping[str, Start] = NO_STARTS,
) -> Learned:
    """The figures after these jobs, by the written ``family``; none below ``least`` jobs.

    ``starts``: by place what other workshops say; it stands between the catalog and these jobs.
    """
    # a job that nobody put a hand to teaches nothing, and counts among none that did
    facts = [fact for fact in facts if fact.looked]
    if len(facts) < max(1, least):
        return Learned(family.id, len(facts), tuple(_by_others(family, starts)))
    rates = fault_rates(family, facts, half_life, starts)
    shares = weights_of(facts, half_life)
    reader, of_reader = set_reader(family, facts, rates, shares)
    figures = [
        *rates.figures(family, facts),
        *of_reader,
        *row_figures(family, as_set(facts, reader), rates, shares, starts),
        *cure_figures(family, facts, shares, starts),
        *pace_figures(family, facts, shares),
        *sale_figures(family, settings, facts, shares),
    ]
    known = {each.place for each in figures}
    figures = [_with_others(each, starts) for each in figures]
    figures += [each for each in _by_others(family, starts) if each.place not in known]
    # how far it moved in its own errors, more or less: what is worth a look stands first
    figures.sort(key=lambda each: (-abs(each.moved) * np.sqrt(each.worth), each.place))
    moves = rates.rates.moves
    return Learned(family.id, len(facts), tuple(figures), moves, rates.rates.settled, reader)


def _with_others(figure: LearnedFigure, starts: Mapping[str, Start]) -> LearnedFigure:
    start = starts.get(figure.place)
    if start is None:
        return figure
    return replace(figure, pool=start.mean, workshops=start.workshops, records=start.records)


def _by_others(family: Family, starts: Mapping[str, Start]) -> Iterator[LearnedFigure]:
    """The figures of which no job of this workshop speaks, as others have them."""
    if not starts:
        return
    shares = written_shares(family)
    for place, start in starts.items():
        low, high = start.range()
        yield LearnedFigure(
            place, shares[place][0], start.mean, low, high, start.worth, (), 0,
            start.mean, start.workshops, start.records,
        )  # fmt: skip


__all__ = [
    "FaultRates",
    "JobFacts",
    "Learned",
    "LearnedFigure",
    "facts_of_jobs",
    "learn",
    "learned_family",
]
