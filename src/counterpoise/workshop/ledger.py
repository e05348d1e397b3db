"""The ledger of a month: what each job that was closed in it took, and what it left.

Hours and repairs are those put down; parts stand at their catalog prices, bench time and tax at the settings of today.
Tax is taken out of what customers paid, at the workshop's own setting; nothing here knows tax law.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from fractions import Fraction

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money.amount import exact, round_minor
from counterpoise.money.estimate import needed_parts
from counterpoise.workshop.estimating import done_tasks
from counterpoise.workshop.evidence import Closed, Job
from counterpoise.workshop.record import OPTIONS
from counterpoise.workshop.replay import replay
from counterpoise.workshop.settings import Settings

_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a cell that begins so is run by some spreadsheets


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A closed job. ``margin_minor`` is what was received, less tax, parts, price paid, and the bench's own cost."""

    number: int
    closed: str
    title: str
    owner: str
    ending: str
    bench_minutes: float
    received_minor: int
    tax_minor: int
    parts_minor: int
    paid_minor: int
    bench_minor: int
    margin_minor: int


@dataclass(frozen=True, slots=True)
class Ledger:
    """The jobs closed in a month (by UTC), and their sums."""

    month: str
    currency: str
    lines: tuple[LedgerLine, ...]
    bench_minutes: float
    received_minor: int
    tax_minor: int
    parts_minor: int
    paid_minor: int
    bench_minor: int
    margin_minor: int


def ledger(families: Mapping[str, Family], settings: Settings, jobs: Iterable[Job], month: str) -> Ledger:
    """The ledger of a month like ``2026-03``. Raises InputError for another form."""
    if not _MONTH.fullmatch(month):
        raise InputError(f"month: {month[:20]!r} is no month", field="month", remedy="Write it like 2026-03")
    lines = tuple(
        _line(families[job.intake.family], settings, job)
        for job in sorted(jobs, key=lambda job: (closed_at(job), job.number))
        if closed_at(job).startswith(month)
    )
    sums = {
        part.name: sum(getattr(line, part.name) for line in lines)
        for part in fields(LedgerLine)
        if part.name.endswith(("_minor", "_minutes"))
    }
    return Ledger(month, settings.currency, lines, **sums)


def closed_at(job: Job) -> str:
    """When the job was closed, UTC; empty while it is open."""
    return next((e.at for e in reversed(job.standing) if isinstance(e.body, Closed)), "")


def as_csv(found: Ledger) -> str:
    """The lines as CSV: amounts in whole units with a point, texts that a spreadsheet would run made harmless."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        ["job", "closed", "title", "owner", "ending", "bench_hours", "received", "tax", "parts", "paid", "bench_cost",
         "margin", "currency"]
    )  # fmt: skip
    for line in found.lines:
        amounts = (line.received_minor, line.tax_minor, line.parts_minor, line.paid_minor, line.bench_minor,
                   line.margin_minor)  # fmt: skip
        writer.writerow(
            [line.number, line.closed[:10], _harmless(line.title), line.owner, line.ending,
             f"{line.bench_minutes / 60:.2f}", *(f"{minor / 100:.2f}" for minor in amounts), found.currency]
        )  # fmt: skip
    return out.getvalue()


def _line(family: Family, settings: Settings, job: Job) -> LedgerLine:
    closed, intake = job.closed, job.intake
    if closed is None:
        raise InputError(f"job {job.number} is open", field="job")
    received = closed.received_minor or 0
    tax = _tax_in(received, settings.tax_percent) if intake.owner == "customer" else 0
    minutes = replay(family, settings, job).minutes
    parts = _parts_minor(family, job)
    bench = round_minor(exact(minutes) * settings.bench_rate_minor / 60)
    return LedgerLine(
        number=job.number,
        closed=closed_at(job),
        title=intake.title,
        owner=intake.owner,
        ending=OPTIONS[closed.ending],
        bench_minutes=minutes,
        received_minor=received,
        tax_minor=tax,
        parts_minor=parts,
        paid_minor=intake.paid_minor,
        bench_minor=bench,
        margin_minor=received - tax - parts - intake.paid_minor - bench,
    )


def _tax_in(gross_minor: int, percent: float) -> int:
    """The tax inside a gross amount."""
    return gross_minor - round_minor(Fraction(gross_minor) / (1 + exact(percent) / 100))


def _parts_minor(family: Family, job: Job) -> int:
    tasks, parts = done_tasks(family, job)
    bought = needed_parts(tasks, parts)
    return sum(task.consumables_minor for task in tasks) + sum(
        family.parts[key].price_minor * count for key, count in bought.items()
    )


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text
