"""Which machine next: the open jobs by what an hour at the bench gains, and what fits into the time there is.

What a machine is worth without the bench (sold as it is, scrapped, handed back) can be had at any time; only what
working on it adds is weighed against the minutes, and what it would cost to leave it until tomorrow: a customer without
a machine, a promise broken. Bench time is paid for in that already. A job whose parts are still to come waits for them.
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

MOST_MINUTES = 7 * 24 * 60
_AT_THE_BENCH = frozenset({"repair_resell", "repair_hand_back"})


@dataclass(frozen=True, slots=True)
class Waiting:
    """An open job. ``gain_minor``: what the advised way adds to the best that can be had without the bench.

    ``delay_minor``: what leaving it until tomorrow would cost. ``per_hour_minor`` is both together for each expected
    hour, None where nothing is left to do at the bench. ``promised`` is the day it was promised for (ISO 8601), or
    empty; ``days_waiting`` how long a customer has been without the machine; ``parts_due`` the day, still to come, on
    which parts on order are expected, or empty.
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
        """What taking it today is worth over leaving it."""
        return self.gain_minor + self.delay_minor


def delay_of(job: Job, settings: Settings, today: date) -> int:
    """What a day more costs: a customer waits; a promise is broken, or comes nearer to being broken.

    A day after the promised one costs ``late_day_minor`` in full, one that is N days off a share of 1 / (1 + N) of it:
    with every day there are fewer left to keep it in (the workshop's own weights, from memory).
    """
    cost = float(settings.waiting_day_minor) if job.intake.owner == "customer" else 0.0
    if job.intake.promised:
        left = max(0, (date.fromisoformat(job.intake.promised) - today).days)
        cost += settings.late_day_minor / (1 + left)
    return round(cost)


def waiting(job: Job, found: Assessment, settings: Settings, today: date) -> Waiting:
    """An open job with what the bench would make of it today."""
    idle = [o.value_minor for o in found.options if o.available and o.id not in _AT_THE_BENCH]
    gain = max(0, found.value_minor - max(idle, default=0))
    minutes = found.minutes_expected
    delay = delay_of(job, settings, today)
    since = (today - date.fromisoformat(job.entries[0].at[:10])).days
    at_bench = minutes > 0 and found.next is not None and found.next.kind != "ending"
    return Waiting(
        number=job.number,
        title=job.intake.title,
        owner=job.intake.owner,
        next=found.next.title if found.next else "",
        value_minor=found.value_minor,
        gain_minor=gain,
        minutes=minutes if at_bench else 0.0,
        per_hour_minor=round((gain + delay) * 60.0 / minutes) if at_bench else None,
        promised=job.intake.promised,
        delay_minor=delay,
        days_waiting=max(0, since) if job.intake.owner == "customer" else 0,
        parts_due=job.parts_due if job.parts_due > today.isoformat() else "",
    )


def ranked(jobs: Iterable[Waiting]) -> tuple[Waiting, ...]:
    """The most for an hour first, then those that wait for parts; last those with nothing to do at the bench."""

    def key(job: Waiting) -> tuple[bool, str, int, int]:
        hourly = job.delay_minor if job.per_hour_minor is None else job.per_hour_minor
        return job.per_hour_minor is None, job.parts_due, -hourly, job.number

    return tuple(sorted(jobs, key=key))


def fitting(jobs: Sequence[Waiting], minutes: int) -> tuple[Waiting, ...]:
    """Those jobs that together are worth the most within the minutes (each taken as long as is expected), best first.

    Jobs that wait for parts are left out. Exact, in whole minutes rounded up. Raises InputError for a time that cannot
    be meant.
    """
    if not 0 <= minutes <= MOST_MINUTES:
        raise InputError(
            f"hours: {minutes / 60:g} cannot be", field="hours", remedy="Give hours from 0 to 168"
        )
    best: list[tuple[int, tuple[int, ...]]] = [(0, ())] * (
        minutes + 1
    )  # by minutes used: gain, chosen
    for index, job in enumerate(jobs):
        size = math.ceil(job.minutes)
        if job.per_hour_minor is None or job.parts_due or job.gain_minor <= 0:
            continue
        for room in range(minutes, size - 1, -1):
            gain, chosen = best[room - size]
            if gain + job.now_minor > best[room][0]:
                best[room] = (gain + job.now_minor, (*chosen, index))
    return ranked(jobs[index] for index in best[minutes][1])
