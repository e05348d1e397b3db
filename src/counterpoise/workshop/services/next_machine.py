"""Which machine next: open jobs by what an hour at the bench gains, and what fits into the time.

What a machine is worth without the bench (sold as it is, scrapped, handed back) can be had at any
time; only what working on it adds is weighed against the minutes, and what it would cost to leave
it until tomorrow: a customer without a machine, a promise broken. Bench time is paid for in that
already. A job whose parts are still to come waits for them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from counterpoise.errors import InputError
from counterpoise.workshop.diagnosis.assessment import Assessment
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings

# a week: more is no plan for a bench, and the table grows with it
MOST_MINUTES = 7 * 24 * 60
# ways to end a job that need somebody at the bench
_AT_THE_BENCH = frozenset({"repair_resell", "repair_hand_back"})


@dataclass(frozen=True, slots=True)
class OpenJob:
    """An open job, with money in minor units.

    ``gain_minor`` is what the advised way adds to the best that can be had without the bench,
    ``delay_minor`` what leaving it until tomorrow would cost; ``per_hour_minor`` both together for
    each expected hour, None where nothing is left to do at the bench. ``promised`` is the day it
    was promised for (ISO 8601) or empty; ``days_waiting`` how long a customer has been without the
    machine; ``parts_due`` the day, still to come, on which parts are expected, or empty.
    """

    number: int
    title: str
    owner: str
    next: str
    value_minor: int
    gain_minor: int
    minutes: float
    per_hour_minor: int | None
    promised: str = ""
    delay_minor: int = 0
    days_waiting: int = 0
    parts_due: str = ""

    @property
    def now_minor(self) -> int:
        """What taking it today is worth over leaving it, in minor units."""
        return self.gain_minor + self.delay_minor


@dataclass(frozen=True, slots=True)
class Weighable:
    """What the weighing of an open job hangs on, whatever the day; kept with the job.

    ``idle_minor`` is the best that can be had without the bench; ``opened`` and ``promised`` are
    days (ISO 8601), ``parts_due`` too; the last two may be empty.
    """

    title: str
    owner: str
    opened: str
    promised: str
    parts_due: str
    next: str
    next_kind: str
    value_minor: int
    idle_minor: int
    minutes: float


def weighable(job: Job, assessment: Assessment) -> Weighable:
    """What is kept of a job and its assessment, to weigh it on any day."""
    # what can be had without the bench is no gain of working
    idle = [o.value_minor for o in assessment.options if o.available and o.id not in _AT_THE_BENCH]
    return Weighable(
        title=job.intake.title,
        owner=job.intake.owner,
        # the entries of a job begin with its intake
        opened=job.entries[0].at[:10],
        promised=job.intake.promised,
        parts_due=job.parts_due,
        next=assessment.next.title if assessment.next else "",
        next_kind=assessment.next.kind if assessment.next else "",
        value_minor=assessment.value_minor,
        idle_minor=max(idle, default=0),
        minutes=assessment.minutes_expected,
    )


def delay_cost(job: Job, settings: Settings, today: date) -> int:
    """What a day more costs, in minor units; see :func:`cost_of_a_day`."""
    return cost_of_a_day(job.intake.owner, job.intake.promised, settings, today)


def cost_of_a_day(owner: str, promised: str, settings: Settings, today: date) -> int:
    """What a day more costs, in minor units: a customer waits, a promise comes nearer to be broken.

    A day after the promised one costs ``late_day_minor`` in full, one that is N days off a share of
    1 / (1 + N) of it (the workshop's own weights, from memory).
    """
    # the workshop's own machine waits for nobody
    cost = float(settings.waiting_day_minor) if owner == "customer" else 0.0
    if promised:
        # with every day there are fewer left to keep the promise in
        days_left = max(0, (date.fromisoformat(promised) - today).days)
        cost += settings.late_day_minor / (1 + days_left)
    return round(cost)


def weigh_job(job: Job, assessment: Assessment, settings: Settings, today: date) -> OpenJob:
    """An open job with what the bench would make of it today, in minor units and minutes."""
    return weigh(job.number, weighable(job, assessment), settings, today)


def weigh(number: int, job: Weighable, settings: Settings, today: date) -> OpenJob:
    """The same from what was kept of the job."""
    gain, minutes = max(0, job.value_minor - job.idle_minor), job.minutes
    delay = cost_of_a_day(job.owner, job.promised, settings, today)
    at_bench = minutes > 0 and job.next_kind not in {"", "ending"}
    days_here = (today - date.fromisoformat(job.opened)).days
    return OpenJob(
        number=number,
        title=job.title,
        owner=job.owner,
        next=job.next,
        value_minor=job.value_minor,
        gain_minor=gain,
        minutes=minutes if at_bench else 0.0,
        per_hour_minor=round((gain + delay) * 60.0 / minutes) if at_bench else None,
        promised=job.promised,
        delay_minor=delay,
        # a clock set back after the intake must not give a negative wait
        days_waiting=max(0, days_here) if job.owner == "customer" else 0,
        parts_due=job.parts_due if job.parts_due > today.isoformat() else "",
    )


def ranked(jobs: Iterable[OpenJob]) -> tuple[OpenJob, ...]:
    """Sorted: the most for an hour first, then those that wait for parts, by day.

    Last those with nothing to do at the bench, by what a day more of them costs.
    """

    def key(job: OpenJob) -> tuple[bool, str, int, int]:
        hourly = job.delay_minor if job.per_hour_minor is None else job.per_hour_minor
        return job.per_hour_minor is None, job.parts_due, -hourly, job.number

    return tuple(sorted(jobs, key=key))


def best_within(jobs: Sequence[OpenJob], minutes: int) -> tuple[OpenJob, ...]:
    """The jobs that together are worth the most within the minutes, best first.

    Each is taken as long as is expected; jobs that wait for parts are left out; empty where none
    fits. Exact, in whole minutes rounded up. Raises InputError for a time that cannot be meant.
    """
    if not 0 <= minutes <= MOST_MINUTES:
        raise InputError(
            f"hours: {minutes / 60:g} cannot be", field="hours", remedy="Give hours from 0 to 168"
        )
    # the knapsack by dynamic programming. By minutes used: what they are worth, the jobs chosen
    best: list[tuple[int, tuple[int, ...]]] = [(0, ())] * (minutes + 1)
    for index, job in enumerate(jobs):
        size = math.ceil(job.minutes)
        # of no use at the bench today, or not yet
        if job.per_hour_minor is None or job.parts_due or job.gain_minor <= 0:
            continue
        # from the top down, so that each job is taken at most once
        for room in range(minutes, size - 1, -1):
            # a job of no minutes fits always, also into no time
            worth, chosen = best[room - size]
            if worth + job.now_minor > best[room][0]:
                best[room] = (worth + job.now_minor, (*chosen, index))
    return ranked(jobs[index] for index in best[minutes][1])
