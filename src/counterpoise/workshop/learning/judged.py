"""Is what was learned any good: each job foretold from those closed before it, beside the catalog.

What is foretold is what the closing says was wrong, from what was known when the machine came in;
minutes and prices the same way. Only jobs whose closing says something are scored.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.learning.drift import judged_half_life
from counterpoise.learning.scores import Bin, Difference, difference, reliability
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.learning.facts import JobFacts, present_by_fault
from counterpoise.workshop.learning.learned import fault_rates, odds_by
from counterpoise.workshop.learning.strengths import HAND, LEAST_JOBS, SALE

# So often it is learned anew on the way, however many jobs there are: it says as much.
_STEPS = 8
# Chances below this are said of nothing, and would fill the first line by themselves.
_LEAST_SAID = 0.02
# Fewer jobs than this span too little time to tell fading from luck (from memory).
LEAST_TO_FADE = 60


@dataclass(frozen=True)
class Judged:
    """How the learned figures foretold, beside the written ones.

    ``causes`` is the difference of log scores a job; ``written`` and ``learned`` the chances said
    beside how often they came true. ``minutes`` and ``prices`` are how much nearer the learned
    figure came, as a share of the written one, a timed step and a sale. ``half_life`` (days) is
    that by which old jobs would best count less; None: no fading is clearly better, or there are
    ``too_few_to_fade``: fewer than ``least_to_fade`` foretold jobs.
    """

    causes: Difference
    written: tuple[Bin, ...]
    learned: tuple[Bin, ...]
    minutes: Difference
    prices: Difference
    half_life: float | None = None
    least_to_fade: int = LEAST_TO_FADE

    @property
    def too_few_to_fade(self) -> bool:
        """Whether nothing can be said of fading yet."""
        return self.causes.jobs < self.least_to_fade


def judge(family: Family, facts: Sequence[JobFacts], half_life: float | None = None) -> Judged:
    """Foretell each job from those before it; ``facts`` are by time of closing."""
    facts = [fact for fact in facts if fact.looked]
    before = _foretold(family, facts, half_life)
    known = [j for j in range(LEAST_JOBS, len(facts)) if facts[j].known]
    learned = np.array([before[j].learned for j in known])
    scores = difference(learned, np.array([before[j].written for j in known]))
    jobs = [(facts[j], before[j].factor) for j in known]
    said, said_written, happened = _chances(family, jobs)
    minutes = [[ratio for _, ratio in fact.paces] for fact in facts]
    prices = [[] if fact.price_ratio is None else [fact.price_ratio] for fact in facts]
    return Judged(
        causes=scores,
        written=reliability(said_written, happened),
        learned=reliability(said, happened),
        minutes=_nearer(minutes, HAND),
        prices=_nearer(prices, SALE),
        half_life=_half_life(family, facts, known),
    )


@dataclass(frozen=True)
class _Foretold:
    """Log scores of a job by learned and written figures, and the (F,) log factors learned."""

    learned: float
    written: float
    factor: Floats


def _half_life(family: Family, facts: Sequence[JobFacts], known: Sequence[int]) -> float | None:
    # a few jobs cannot tell fading from luck
    if len(known) < LEAST_TO_FADE:
        return None

    def score_of(half_life: float | None) -> Floats:
        said_before = _foretold(family, facts, half_life)
        return np.array([said_before[j].learned for j in known])

    return judged_half_life(score_of)


def _foretold(
    family: Family, facts: Sequence[JobFacts], half_life: float | None
) -> dict[int, _Foretold]:
    """By place of the job: what was said of it before its closing."""
    present = present_by_fault(family_model(family))
    odds_of = odds_by(family)
    start = np.log(odds_of(np.array([fault.prior for fault in family.faults.values()])))
    step = max(1, (len(facts) - LEAST_JOBS) // _STEPS)
    # before anything is learned, the written figures are all there is
    factor, said_before = np.zeros(len(start)), {}
    for j in range(LEAST_JOBS, len(facts)):
        if (j - LEAST_JOBS) % step == 0:
            rates = fault_rates(family, facts[:j], half_life).rates
            factor = np.log(odds_of(rates.mean)) - start
        said_before[j] = _Foretold(
            _score(present, facts[j], factor), _score(present, facts[j], 0.0 * factor), factor
        )
    return said_before


def _score(present: Floats, job: JobFacts, factor: Floats) -> float:
    """Log chance of what the closing says, from what was known at the intake."""
    moved = np.append(present[job.rows] @ factor, job.others_heard @ factor)
    return float(np.logaddexp.reduce(job.labelled + moved) - np.logaddexp.reduce(job.heard + moved))


def _chances(
    family: Family, jobs: Sequence[tuple[JobFacts, Floats]]
) -> tuple[Floats, Floats, Floats]:
    """Chances said of each fault of each job, learned and written, and whether it was there."""
    present = present_by_fault(family_model(family))
    rows = []
    for job, factor in jobs:
        sets = np.vstack([present[job.rows], job.others_heard])
        there = _belief(job.whole) @ np.vstack([present[job.rows], job.others])
        learned = _belief(job.heard + sets @ factor) @ sets
        written = _belief(job.heard) @ sets
        # of forty faults nearly all are as good as ruled out on any machine
        kept = np.maximum(learned, written) >= _LEAST_SAID
        rows.append(np.array([learned[kept], written[kept], there[kept]]))
    joined = np.concatenate(rows, axis=1) if rows else np.zeros((3, 0))
    return joined[0], joined[1], joined[2]


def _belief(log_weight: Floats) -> Floats:
    raw = np.exp(log_weight - log_weight.max())
    return np.asarray(raw / raw.sum())


def _nearer(ratios: Sequence[Sequence[float]], worth: float) -> Difference:
    """How much nearer the pace of the jobs before came than the written figure, a ratio each."""
    total, count = worth, worth
    nearer: list[float] = []
    for j, each in enumerate(ratios):
        # scored before it is counted: nothing is foretold from itself
        if j >= LEAST_JOBS:
            nearer += [abs(ratio - 1.0) - abs(ratio - total / count) for ratio in each]
        total, count = total + sum(each), count + len(each)
    return difference(np.array(nearer), np.zeros(len(nearer)))


__all__ = ["LEAST_TO_FADE", "Judged", "judge"]
