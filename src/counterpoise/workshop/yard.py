"""Which machine next: the open jobs by what an hour at the bench gains, and what fits into the time there is.

What a machine is worth without the bench (sold as it is, scrapped, handed back) can be had at any time; only what
working on it adds is weighed against the minutes. Bench time is paid for in that already.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from counterpoise.errors import InputError
from counterpoise.workshop.assessment import Assessment
from counterpoise.workshop.evidence import Job

MOST_MINUTES = 7 * 24 * 60
_AT_THE_BENCH = frozenset({"repair_resell", "repair_hand_back"})


@dataclass(frozen=True, slots=True)
class Waiting:
    """An open job. ``gain_minor``: what the advised way adds to the best that can be had without the bench.

    ``per_hour_minor`` is the gain for each expected hour, None where nothing is left to do at the bench.
    ``promised`` is the day it was promised for (ISO 8601), or empty.
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


def waiting(job: Job, found: Assessment) -> Waiting:
    """An open job with what the bench would make of it."""
    idle = [o.value_minor for o in found.options if o.available and o.id not in _AT_THE_BENCH]
    gain = max(0, found.value_minor - max(idle, default=0))
    minutes = found.minutes_expected
    at_bench = minutes > 0 and found.next is not None and found.next.kind != "ending"
    return Waiting(
        number=job.number,
        title=job.intake.title,
        owner=job.intake.owner,
        next=found.next.title if found.next else "",
        value_minor=found.value_minor,
        gain_minor=gain,
        minutes=minutes if at_bench else 0.0,
        per_hour_minor=round(gain * 60.0 / minutes) if at_bench else None,
        promised=job.intake.promised,
    )


def ranked(jobs: Iterable[Waiting]) -> tuple[Waiting, ...]:
    """The most for an hour first; those with nothing to do at the bench last, in order of their numbers."""
    return tuple(sorted(jobs, key=lambda w: (w.per_hour_minor is None, -(w.per_hour_minor or 0), w.number)))


def fitting(jobs: Sequence[Waiting], minutes: int) -> tuple[Waiting, ...]:
    """Those jobs that together gain the most within the minutes (each taken as long as is expected), best first.

    Exact, in whole minutes rounded up. Raises InputError for a time that cannot be meant.
    """
    if not 0 <= minutes <= MOST_MINUTES:
        raise InputError(f"hours: {minutes / 60:g} cannot be", field="hours", remedy="Give hours from 0 to 168")
    best: list[tuple[int, tuple[int, ...]]] = [(0, ())] * (minutes + 1)  # by minutes used: gain, chosen
    for index, job in enumerate(jobs):
        size = math.ceil(job.minutes)
        if job.per_hour_minor is None or job.gain_minor <= 0:
            continue
        for room in range(minutes, size - 1, -1):
            gain, chosen = best[room - size]
            if gain + job.gain_minor > best[room][0]:
                best[room] = (gain + job.gain_minor, (*chosen, index))
    return ranked(jobs[index] for index in best[minutes][1])
