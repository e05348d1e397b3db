"""The ledger of a month, for page, terminal and file."""

from __future__ import annotations

from counterpoise.errors import InputError
from counterpoise.workshop.billing.ledger import Ledger, ledger
from counterpoise.workshop.jobs.comeback import closings
from counterpoise.workshop.services.workshop import Workshop


def month_ledger(workshop: Workshop, month: str = "") -> Ledger:
    """The ledger of a month like ``2026-03``; empty: of the last in which a job was closed.

    Raises InputError for another form, or where a closed job is of a family that is not known here.
    """
    jobs = [
        job
        for line in workshop.jobs.lines()
        if any(closings(job := workshop.jobs.get(line.number)))
    ]
    # refused in words here rather than by a missing key below
    for job in jobs:
        workshop.family(job.intake.family)
    # the month in which something was closed last is the one somebody wants to see
    last = max(
        (closing.at[:7] for job in jobs for closing in closings(job)), default=workshop.now()[:7]
    )
    return ledger(workshop.families, workshop.settings(), jobs, month or last)


def neighbouring_months(month: str) -> tuple[str, str]:
    """The months before and after one like ``2026-03``. Raises InputError at the ends of time."""
    year, number = int(month[:4]), int(month[5:])
    if not 1 < year < 9999:
        raise InputError(f"month: {month} cannot be", field="month", remedy="Write it like 2026-03")
    # a year has no month 0: December of the year before
    before = f"{year - (number == 1):04d}-{(number - 2) % 12 + 1:02d}"
    return before, f"{year + (number == 12):04d}-{number % 12 + 1:02d}"
