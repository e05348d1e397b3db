"""The ledger of a month, for page, terminal and file."""

from __future__ import annotations

from dataclasses import replace

from counterpoise.errors import InputError
from counterpoise.workshop.billing.ledger import Ledger, LeftOut, ledger
from counterpoise.workshop.jobs.comeback import closings
from counterpoise.workshop.services.workshop import Workshop


def month_ledger(workshop: Workshop, month: str = "") -> Ledger:
    """The ledger of a month like ``2026-03``; empty: of the last in which a job was closed.

    Raises InputError for another form. Jobs of a family that is gone or broken are left out, and
    said.
    """
    jobs = [
        job
        for line in workshop.jobs.lines()
        if any(closings(job := workshop.jobs.get(line.number)))
    ]
    # the month in which something was closed last is the one somebody wants to see
    last = max(
        (closing.at[:7] for job in jobs for closing in closings(job)), default=workshop.now()[:7]
    )
    # one job of a family that is gone must not hide all others
    trouble = {job.number: workshop.families.trouble(job.intake.family) for job in jobs}
    sound = [job for job in jobs if not trouble[job.number]]
    month = month or last
    left_out = tuple(
        LeftOut(job.number, job.intake.title, trouble[job.number])
        for job in jobs
        if trouble[job.number] and any(at.at.startswith(month) for at in closings(job))
    )
    return replace(ledger(workshop.families, workshop.settings(), sound, month), left_out=left_out)


def neighbouring_months(month: str) -> tuple[str, str]:
    """The months before and after one like ``2026-03``. Raises InputError at the ends of time."""
    year, number = int(month[:4]), int(month[5:])
    if not 1 < year < 9999:
        raise InputError(f"month: {month} cannot be", field="month", remedy="Write it like 2026-03")
    # a year has no month 0: December of the year before
    before = f"{year - (number == 1):04d}-{(number - 2) % 12 + 1:02d}"
    return before, f"{year + (number == 12):04d}-{number % 12 + 1:02d}"
