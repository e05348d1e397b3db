"""The ledger of a month, and the twelve months around it, for page, terminal and file."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, replace
from typing import cast
from weakref import WeakKeyDictionary

from markupsafe import Markup

from counterpoise.errors import InputError
from counterpoise.report.figures.chart import Chart, Kind
from counterpoise.report.figures.money_axis import Amount, money_axis
from counterpoise.report.words import numbers
from counterpoise.workshop.billing.ledger import Ledger, LeftOut, ledger
from counterpoise.workshop.jobs.comeback import closings
from counterpoise.workshop.jobs.entries import Job
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.services.workshop import Workshop

_MONTH = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")
_MONTHS = 12
_COLUMN_PX = 110.0  # of the tallest column of the year
# Lines that are worked out anew for one page; each replays a job. The rest comes with the next.
MOST_NEW = 30
_Key = tuple[int, str, int, str]
_kept: WeakKeyDictionary[Workshop, dict[_Key, Ledger]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True)
class MonthSums:
    """What the jobs closed in a month (``2026-03``) took and left, in minor units and minutes.

    ``cost_minor``: tax, parts, machines and bench time. ``known`` is False where lines are still
    to be worked out: the sums are then too small.
    """

    month: str
    closed: int
    received_minor: int
    cost_minor: int
    margin_minor: int
    bench_minutes: float
    known: bool = True

    @property
    def name(self) -> str:
        """The month as it is said: ``Mar 2026``."""
        return f"{dt.date(int(self.month[:4]), int(self.month[5:]), 1):%b %Y}"


def month_ledger(workshop: Workshop, month: str = "") -> Ledger:
    """The ledger of a month like ``2026-03``; empty: of the last in which a job was closed.

    Raises InputError for another form. Jobs of a family that is gone or broken are left out, and
    said.
    """
    month = month or _last_month(workshop)
    jobs = _closed_in(workshop, month, month)
    # one job of a family that is gone must not hide all others
    trouble = {job.number: workshop.families.trouble(job.intake.family) for job in jobs}
    sound = [job for job in jobs if not trouble[job.number]]
    left_out = tuple(
        LeftOut(job.number, job.intake.title, trouble[job.number])
        for job in jobs
        if trouble[job.number]
    )
    return replace(ledger(workshop.families, workshop.settings(), sound, month), left_out=left_out)


def _last_month(workshop: Workshop) -> str:
    """The month in which something was closed last: the one somebody wants to see."""
    months = workshop.jobs.months_with_closings()
    # a closing taken back as a mistake never happened, and may be the only one of its month
    return next((m for m in months if _closed_in(workshop, m, m)), workshop.now()[:7])


def _closed_in(workshop: Workshop, first: str, last: str) -> list[Job]:
    """The jobs closed in these months and those between; no other job is read."""
    jobs = workshop.jobs.closed_in(first, last)
    return [job for job in jobs if any(first <= each.at[:7] <= last for each in closings(job))]


def neighbouring_months(month: str) -> tuple[str, str]:
    """The months before and after one like ``2026-03``. Raises InputError at the ends of time."""
    year, number = (int(month[:4]), int(month[5:])) if _MONTH.fullmatch(month) else (0, 0)
    if not 1 < year < 9999:
        raise InputError(
            f"month: {month[:20]} cannot be", field="month", remedy="Write it like 2026-03"
        )
    # a year has no month 0: December of the year before
    before = f"{year - (number == 1):04d}-{(number - 2) % 12 + 1:02d}"
    return before, f"{year + (number == 12):04d}-{number % 12 + 1:02d}"


def year_to(workshop: Workshop, month: str, most_new: int | None = None) -> tuple[MonthSums, ...]:
    """The sums of a month like ``2026-03`` and of the eleven before it, the latest first.

    At most ``most_new`` lines are worked out anew, None: as many as one page may wait for. Raises
    InputError for another form. Jobs of a family that is gone or broken are in no sum.
    """
    months = [month]
    while len(months) < _MONTHS:
        before = neighbouring_months(months[-1])[0]
        # no year before the second: what is older has no name here
        if before < "0002":
            break
        months.append(before)
    jobs = [
        job
        for job in _closed_in(workshop, months[-1], months[0])
        if not workshop.families.trouble(job.intake.family)
    ]
    closed = [(closing.at[:7], job) for job in jobs for closing in closings(job)]
    new, settings = [MOST_NEW if most_new is None else most_new], workshop.settings()
    return tuple(
        _sums(each, [_kept_ledger(workshop, settings, job, each, new) for job in _in(each, closed)])
        for each in months
    )


def _in(month: str, closed: list[tuple[str, Job]]) -> list[Job]:
    # a job that was closed twice in a month has both lines in the one ledger of it
    return list({job.number: job for at, job in closed if at == month}.values())


def _kept_ledger(
    workshop: Workshop, settings: Settings, job: Job, month: str, new: list[int]
) -> Ledger | None:
    """The lines of one job in a month; None where ``new[0]``, what may still be added, is 0."""
    # held only as long as the workshop itself: another store has other jobs of that number
    kept = _kept.setdefault(workshop, {})
    # a job that nobody wrote to gives the same lines, as long as the settings are the same
    key = (job.number, month, job.entries[-1].number, repr(settings))
    if key not in kept:
        if not new[0]:
            return None
        new[0] -= 1
        kept[key] = ledger(workshop.families, settings, [job], month)
    return kept[key]


def _sums(month: str, ledgers: list[Ledger | None]) -> MonthSums:
    # a month is said to be incomplete rather than shown too small
    known = [each for each in ledgers if each is not None]
    received, left = (
        sum(getattr(each, name) for each in known) for name in ("received_minor", "margin_minor")
    )
    return MonthSums(
        month,
        sum(len(each.lines) for each in known),
        received,
        received - left,
        left,
        sum(each.bench_minutes for each in known),
        known=len(known) == len(ledgers),
    )


def month_figure(month: Ledger) -> Markup:
    """What came in and what it took, as bars from nought on one axis of money."""
    parts = (
        ("Received", month.received_minor),
        ("Tax in it, as set by this workshop", -month.tax_minor),
        ("Parts", -month.parts_minor),
        ("Paid for machines", -month.paid_minor),
        ("Bench time, at its own cost", -month.bench_minor),
        ("Left over", month.margin_minor),
    )
    amounts = [
        Amount(title, minor, min(0, minor), max(0, minor), leads=title == "Left over")
        for title, minor in parts
    ]
    return money_axis(amounts, month.currency, exact=True)


def year_figure(year: tuple[MonthSums, ...]) -> Markup:
    """The months side by side, the earliest first: received, what it took, and hours below."""
    most = max((m for each in year for m in (each.received_minor, each.cost_minor)), default=0)
    chart = Chart(_COLUMN_PX + 48)
    chart.rule(0, _COLUMN_PX, 1, _COLUMN_PX, "ink")
    slot = 1 / len(year)
    for place, month in enumerate(reversed(year)):
        left = slot * place
        for start, minor, kind in (
            (0.14, month.received_minor, "ink"),
            (0.5, month.cost_minor, "pale"),
        ):
            # what brought less than nothing stands in the row below in figures
            high = _COLUMN_PX * max(0, minor) / (most or 1)
            if high:
                at = left + slot * start
                chart.bar(at, _COLUMN_PX - high, at + slot * 0.36, high, cast("Kind", kind))
        middle = left + slot / 2
        chart.words(middle, _COLUMN_PX + 18, month.name[0], "middle")
        if month.bench_minutes:
            chart.words(middle, _COLUMN_PX + 40, f"{month.bench_minutes / 60:.0f}", "middle")
    # whoever cannot see the columns hears the months that have any
    return chart.svg(
        "; ".join(
            f"{month.name}: {numbers.plain_money(month.received_minor)} received,"
            f" {numbers.plain_money(month.cost_minor)} taken,"
            f" {month.bench_minutes / 60:.0f} hours"
            for month in reversed(year)
            if month.closed
        )
        or "Nothing was closed in these months."
    )
