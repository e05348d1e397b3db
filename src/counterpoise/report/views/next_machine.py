"""The yard as page, terminal and API tell it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from counterpoise.report.words.family_money import assumed_lines
from counterpoise.workshop.services.next_machine import OpenJob, best_within, ranked, weigh
from counterpoise.workshop.services.workshop import Workshop

CUSTOMER = "customer"
HOURS = 4.0  # half a day: what is planned at a stretch


def to_whom(job: OpenJob) -> str:
    """Whose gain the figures of an open job are, in words."""
    return "for the customer" if job.owner == CUSTOMER else "for us"


@dataclass(frozen=True, slots=True)
class Unweighed:
    """A job that could not be weighed, and why."""

    number: int
    title: str
    why: str


@dataclass(frozen=True, slots=True)
class Yard:
    """The open jobs: what fits into ``hours``, all by what an hour gains, what is to be decided.

    ``fits`` are the jobs to take, with their minutes and what they are worth in minor units, to
    the workshop for machines of its own and to customers for theirs; ``waits`` those whose parts
    are still to come, ``promised`` by day, ``late`` the numbers of those whose day has passed,
    ``left_out`` those that could not be weighed, ``pending`` those still being worked out.
    """

    workshop: str
    currency: str
    hours: float
    fits: tuple[OpenJob, ...]
    fits_minutes: float
    fits_minor: int
    # of it to the workshop, and to its customers: theirs is no money in our till
    fits_own_minor: int
    fits_customers_minor: int
    bench: tuple[OpenJob, ...]
    waits: tuple[OpenJob, ...]
    # nothing to do at the bench: somebody has to say yes, or call somebody
    decide: tuple[OpenJob, ...]
    promised: tuple[OpenJob, ...]
    late: tuple[int, ...]
    left_out: tuple[Unweighed, ...] = ()
    # what is taken for families whose file leaves out what a machine is worth
    assumed: tuple[str, ...] = ()
    pending: tuple[Unweighed, ...] = ()


def yard(workshop: Workshop, hours: float = HOURS) -> Yard:
    """Weigh every open job against ``hours`` at the bench.

    Raises InputError for hours that cannot be meant.
    """
    today, settings = workshop.now()[:10], workshop.settings()
    standing = workshop.kept.open_jobs()
    day = date.fromisoformat(today)
    jobs = ranked(
        weigh(number, figures, settings, day) for number, figures in standing.figures.items()
    )
    kinds = {line.family for line in standing.lines if line.number in standing.figures}
    # hours come as half hours and quarters: to the minute
    fits = best_within(jobs, round(60 * hours))
    at_bench = [job for job in jobs if job.per_hour_minor is not None]
    return Yard(
        workshop=settings.workshop_name,
        currency=settings.currency,
        hours=hours,
        fits=fits,
        fits_minutes=sum(job.minutes for job in fits),
        fits_minor=sum(job.now_minor for job in fits),
        fits_own_minor=sum(job.now_minor for job in fits if job.owner != CUSTOMER),
        fits_customers_minor=sum(job.now_minor for job in fits if job.owner == CUSTOMER),
        bench=tuple(job for job in at_bench if not job.parts_due),
        waits=tuple(job for job in at_bench if job.parts_due),
        decide=tuple(job for job in jobs if job.per_hour_minor is None),
        promised=tuple(
            # of two promised for one day the older job first
            sorted((j for j in jobs if j.promised), key=lambda j: (j.promised, j.number))
        ),
        late=tuple(job.number for job in jobs if job.promised and job.promised < today),
        left_out=tuple(
            Unweighed(line.number, line.title, standing.failed[line.number])
            for line in standing.lines
            if line.number in standing.failed
        ),
        assumed=assumed_lines((workshop.family(kind) for kind in sorted(kinds)), settings),
        pending=tuple(
            Unweighed(line.number, line.title, "still being worked out")
            for line in standing.pending
        ),
    )
