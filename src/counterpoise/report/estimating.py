"""The estimate of a job as page, terminal and API tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterpoise.money.estimate import Estimate
from counterpoise.report import words
from counterpoise.report.view import JobView
from counterpoise.workshop.compile import fits
from counterpoise.workshop.estimating import AS_USUAL, Costing, Terms, cost


@dataclass(frozen=True, slots=True)
class Work:
    """A repair that can be estimated: done already, among those estimated here."""

    id: str
    title: str
    done: bool
    chosen: bool


@dataclass(frozen=True, slots=True)
class EstimateAnswer:
    """What the work on a job costs. ``works``: chance that the machine is right afterwards.

    ``charged``: a customer is to pay it; otherwise it is what the work costs the workshop. ``own_minor``: what it costs
    the workshop in any case, bench time and parts; ``free``: it is mended under the guarantee.
    """

    number: int
    last: int
    charged: bool
    work: tuple[Work, ...]
    others: tuple[Work, ...]
    works: float
    used_parts: bool
    discounts: tuple[str, ...]
    free: bool
    own_minor: int
    estimate: Estimate


def costing(seen: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL) -> Costing:
    """Cost the repairs named, else what was done and what the bench advises. Raises InputError."""
    step = seen.assessment.next
    advised = step.id if step and step.kind == "repair" else ""
    return cost(seen.family, seen.settings, seen.job, repairs, advised=advised, terms=terms)


def estimated(seen: JobView, repairs: Sequence[str] = (), terms: Terms = AS_USUAL) -> EstimateAnswer:
    """The estimate of a job. Raises InputError for a repair that is not known or does not fit."""
    found = costing(seen, repairs, terms)
    chosen = {entry.id for entry in found.repairs}
    others = [
        entry
        for entry in seen.family.repairs.values()
        if entry.id not in chosen and fits(entry.needs, seen.job.intake.features)
    ]
    return EstimateAnswer(
        number=seen.job.number,
        last=seen.last,
        charged=seen.job.intake.owner == "customer",
        work=tuple(Work(r.id, r.title, r.id in found.done, True) for r in found.repairs),
        others=tuple(Work(r.id, r.title, r.id in found.done, False) for r in others),
        works=found.works,
        used_parts=terms.used,
        discounts=terms.discounts,
        free=found.free,
        own_minor=found.own.net_minor,
        estimate=found.estimate,
    )


def quantity(value: float, unit: str) -> str:
    """How much a line is of: minutes, pieces, or nothing for a lump."""
    if unit == "min":
        return words.minutes(value)
    return f"{value:g} {'piece' if value == 1 else 'pieces'}" if unit == "pc" else ""
