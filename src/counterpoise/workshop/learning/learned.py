"""A family's figures after the workshop's closed jobs, each with what it was and what moved it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from types import MappingProxyType

import numpy as np

from counterpoise.catalog.family import Family
from counterpoise.catalog.priors import independent_priors
from counterpoise.learning.drift import faded
from counterpoise.learning.pooling import Start
from counterpoise.learning.rates import Cases, Rates, learn_rates
from counterpoise.reasoning.hypotheses import Floats
from counterpoise.workshop.diagnosis.family_model import family_model
from counterpoise.workshop.learning.facts import JobFacts, present_by_fault
from counterpoise.workshop.learning.strengths import FAULT, strength

# A job stands behind a fault's share where the fault is believed to have been there so surely.
_BEHIND = 0.5
# where no other workshop has said anything
NO_STARTS: Mapping[str, Start] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class LearnedFigure:
    """A figure by its place in the catalog, as written and as learned.

    ``low`` and ``high`` hold it eight times in ten; ``worth`` is how many observations it rests
    on, the written figure's own included; ``jobs`` bear on it, of ``of`` closed ones in all.
    """

    place: str
    written: float
    here: float
    low: float
    high: float
    worth: float
    jobs: tuple[int, ...]
    of: int
    # the level between: what other workshops have, and how many of them said so
    pool: float | None = None
    workshops: int = 0
    records: int = 0

    @property
    def moved(self) -> float:
        """Its size now to its size as written, as a log."""
        return float(np.log(max(self.here, 1e-9) / max(self.written, 1e-9)))


@dataclass(frozen=True)
class FaultRates:
    """How often each fault was there, and what was believed of each job by these very rates.

    ``beliefs`` holds for each job (M + 1,) the belief in its sets of faults, as ``JobFacts`` are.
    """

    rates: Rates
    beliefs: tuple[Floats, ...]
    faults: tuple[str, ...]

    def figures(self, family: Family, jobs: Sequence[JobFacts]) -> Iterator[LearnedFigure]:
        """The share of every fault."""
        present = present_by_fault(family_model(family))
        chances = np.array(
            [q @ _sets(present, job) for job, q in zip(jobs, self.beliefs, strict=True)]
        )
        for i, name in enumerate(self.faults):
            low, high = self.rates.share(i).range()
            behind = np.flatnonzero(chances[:, i] >= _BEHIND).tolist()
            yield LearnedFigure(
                f"faults.{name}.prior",
                family.faults[name].prior,
                float(self.rates.mean[i]),
                low,
                high,
                float(self.rates.weight[i]),
                tuple(jobs[j].number for j in behind),
                len(jobs),
            )


def weights_of(
    jobs: Sequence[JobFacts], half_life: float | None, now: datetime | None = None
) -> Floats:
    """(J,) how much each job counts; ages are taken from ``now``, else from the latest closing."""
    days = np.array([datetime.fromisoformat(job.closed_at).timestamp() for job in jobs]) / 86400
    latest = now.timestamp() / 86400 if now else days.max(initial=0.0)
    return faded(latest - days, half_life)


def fault_rates(
    family: Family,
    jobs: Sequence[JobFacts],
    half_life: float | None = None,
    starts: Mapping[str, Start] = NO_STARTS,
) -> FaultRates:
    """Learn how often each fault comes from closed jobs; there must be one at least.

    ``starts``: by place what other workshops say, where it stands for what is written.
    """
    model = family_model(family)
    present = present_by_fault(model)
    faults = tuple(family.faults)
    cases = Cases(
        present=np.concatenate([_sets(present, job) for job in jobs]),
        log_weight=np.concatenate([job.whole for job in jobs]),
        job=np.repeat(np.arange(len(jobs)), [len(job.whole) for job in jobs]),
        share=weights_of(jobs, half_life),
        written=np.array([job.written for job in jobs]),
    )
    written = np.array([fault.prior for fault in family.faults.values()])
    worth = np.array([strength(FAULT, fault.source) for fault in family.faults.values()])
    odds_of = odds_by(family)
    believed = written.copy()
    for i, name in enumerate(faults):
        if start := starts.get(f"faults.{name}.prior"):
            believed[i], worth[i] = start.mean, start.worth
    rates = learn_rates(cases, written, worth, odds_of, comes_by(family, odds_of), believed)
    ends = np.cumsum([len(job.whole) for job in jobs])[:-1]
    return FaultRates(rates, tuple(np.split(rates.belief, ends)), faults)


def _sets(present: Floats, job: JobFacts) -> Floats:
    """(M + 1, F) the faults of the sets of a job; of all others the share that has each."""
    return np.vstack([present[job.rows], job.others])


def odds_by(family: Family) -> Callable[[Floats], Floats]:
    """(F,) odds that the family's model weighs its sets with, for shares (F,) of the faults."""
    kept: dict[bytes, Floats] = {}

    def odds(shares: Floats) -> Floats:
        # asked twice a round for the same shares
        key = shares.tobytes()
        if key not in kept:
            kept.clear()
            kept[key] = reckoned(shares)
        return kept[key]

    def reckoned(shares: Floats) -> Floats:
        pairs = zip(family.faults.values(), shares.tolist(), strict=True)
        moved = {fault.id: replace(fault, prior=share) for fault, share in pairs}
        chances = independent_priors(replace(family, faults=moved))
        # grades share the odds of their fault; they add up to them
        return np.array(
            [
                sum(chances[key] / (1.0 - chances[key]) for key in fault.keys if key in chances)
                for fault in moved.values()
            ]
        )

    return odds


def comes_by(family: Family, odds_of: Callable[[Floats], Floats]) -> Callable[[Floats], Floats]:
    """(F,) how often each fault is on a machine of no known age and kind, for shares (F,).

    Of independent faults, given that something is wrong; company and the most at once are left out,
    since only the change from one share to another is asked for.
    """
    alone = np.array([fault.alone for fault in family.faults.values()])

    def comes(shares: Floats) -> Floats:
        odds = odds_of(shares)
        together = np.prod(1.0 + odds[~alone])
        anything = together - 1.0 + odds[alone].sum()
        return np.asarray(np.where(alone, odds, odds / (1.0 + odds) * together) / anything)

    return comes


__all__ = ["FaultRates", "LearnedFigure", "fault_rates", "odds_by", "weights_of"]
