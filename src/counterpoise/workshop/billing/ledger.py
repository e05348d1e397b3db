"""The ledger of a month: what each job that was closed in it took, and what it left.

Hours and repairs are those put down. Bench time, tax and parts stand at what they were when the job
was closed; where a closing does not say (it is from another program, or older than that), at
today's. A job that came back has a line for each closing: the first keeps what it brought, the
second bears what the guarantee took. Tax is taken out of what customers paid, at the workshop's own
setting; nothing here knows tax law.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import cast

from counterpoise.catalog.family import Family
from counterpoise.errors import InputError
from counterpoise.money.amount import exact, round_minor
from counterpoise.money.estimate import needed_parts
from counterpoise.workshop.billing.job_order import done_tasks
from counterpoise.workshop.diagnosis.evidence.bench_time import bench_minutes
from counterpoise.workshop.jobs.comeback import closings, guaranteed
from counterpoise.workshop.jobs.entries import Closed, Entry, Job
from counterpoise.workshop.jobs.entry_checks import OPTIONS
from counterpoise.workshop.jobs.settings import Settings
from counterpoise.workshop.parts.offers import NO_SUPPLY, PartChoice, Supply

_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
# A cell that begins so is run as a formula by some spreadsheets.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """A closed job. ``margin_minor``: received, less tax, parts, price paid, the bench's own cost.

    ``guarantee_minor``: parts and bench time, where it was mended under the guarantee. ``of_then``:
    reckoned with the figures of the day it was closed.
    """

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
    guarantee_minor: int = 0
    of_then: bool = True


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A closed job that no line could be reckoned for, and why."""

    number: int
    title: str
    why: str


@dataclass(frozen=True, slots=True)
class Ledger:
    """The jobs closed in a month (by UTC), and their sums in minor units and minutes.

    ``left_out`` are those in no sum, as the file of their family is gone or broken.
    """

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
    guarantee_minor: int = 0
    left_out: tuple[LeftOut, ...] = ()


def ledger(
    families: Mapping[str, Family], settings: Settings, jobs: Iterable[Job], month: str
) -> Ledger:
    """The ledger of a month like ``2026-03``, by time of closing. Raises InputError."""
    if not _MONTH.fullmatch(month):
        raise InputError(
            f"month: {month[:20]!r} is no month", field="month", remedy="Write it like 2026-03"
        )
    # a time is ISO 8601, so its month is its first seven letters
    in_month = [
        (job, closing) for job in jobs for closing in closings(job) if closing.at.startswith(month)
    ]
    lines = tuple(
        _line(families[job.intake.family], settings, job, closing)
        for job, closing in sorted(in_month, key=lambda pair: (pair[1].at, pair[0].number))
    )
    # whatever a line counts in minor units or minutes is summed: a new field needs no line here
    sums = {
        part.name: sum(getattr(line, part.name) for line in lines)
        for part in fields(LedgerLine)
        if part.name.endswith(("_minor", "_minutes"))
    }
    return Ledger(month, settings.currency, lines, **sums)


def as_csv(month: Ledger) -> str:
    """The lines as CSV, amounts in whole units with a point.

    Texts that a spreadsheet would run as a formula are made safe_cell.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(
        ["job", "closed", "title", "owner", "ending", "bench_hours", "received", "tax", "parts",
         "paid", "bench_cost", "margin", "guarantee_cost", "figures_of", "currency"]
    )  # fmt: skip
    # hours, since that is what books are kept in; a point, since every spreadsheet reads it
    for line in month.lines:
        amounts = (line.received_minor, line.tax_minor, line.parts_minor, line.paid_minor,
                   line.bench_minor, line.margin_minor, line.guarantee_minor)  # fmt: skip
        writer.writerow(
            [line.number, line.closed[:10], _harmless(line.title), line.owner, line.ending,
             f"{line.bench_minutes / 60:.2f}", *(f"{minor / 100:.2f}" for minor in amounts),
             "then" if line.of_then else "today", month.currency]
        )  # fmt: skip
    return out.getvalue()


def closing_terms(
    family: Family, settings: Settings, job: Job, supply: Supply = NO_SUPPLY
) -> dict[str, float]:
    """The workshop's figures as they are now, by name, to be kept with the closing of this job.

    So its line in the books stays the same whatever the settings and prices become.
    """
    # these names are stored with the closing (entries.TERMS)
    return {
        "bench_rate_minor": settings.bench_rate_minor,
        "tax_percent": settings.tax_percent,
        "warranty_months": settings.warranty_months,
        "parts_minor": _parts_minor(family, job, supply),
    }


def _line(family: Family, settings: Settings, job: Job, closing: Entry) -> LedgerLine:
    """What was done from the closing before to this one, as it was known then."""
    # the job as it stood when it was closed: what came after belongs to the next line
    closed, intake = cast("Closed", closing.body), job.intake
    then, before = _up_to(job, closing), _before(job, closing)
    # a closing of another program brings no figures: today's stand in, and the line says so
    terms = dict(closed.terms) or closing_terms(family, settings, then)
    received = closed.received_minor or 0
    # the workshop's own machine is sold without tax here: nothing in this program knows tax law
    tax = (
        _tax_in(received, terms.get("tax_percent", settings.tax_percent))
        if intake.owner == "customer"
        else 0
    )
    # a job that came back has paid for what was done before it was first closed
    spent = 0.0 if before is None else bench_minutes(family, before)
    minutes = bench_minutes(family, then) - spent
    parts = round(terms.get("parts_minor", 0))
    bench = round_minor(
        exact(minutes) * exact(terms.get("bench_rate_minor", settings.bench_rate_minor)) / 60
    )
    # the price of the machine was borne by its first line
    paid = 0 if before else intake.paid_minor
    return LedgerLine(
        number=job.number,
        closed=closing.at,
        title=intake.title,
        owner=intake.owner,
        ending=OPTIONS[closed.ending],
        bench_minutes=minutes,
        received_minor=received,
        tax_minor=tax,
        parts_minor=parts,
        paid_minor=paid,
        bench_minor=bench,
        margin_minor=received - tax - parts - paid - bench,
        guarantee_minor=parts + bench if guaranteed(then, settings) else 0,
        of_then=bool(closed.terms),
    )


def _up_to(job: Job, last: Entry) -> Job:
    """The job as it stood with ``last`` as its last entry."""
    return Job(job.number, job.entries[: job.entries.index(last) + 1])


def _before(job: Job, closing: Entry) -> Job | None:
    """The job up to the closing before this one; None where it is the first."""
    earlier = [entry for entry in closings(job) if entry.number < closing.number]
    return _up_to(job, earlier[-1]) if earlier else None


def _tax_in(gross_minor: int, percent: float) -> int:
    """The tax inside a gross amount, in minor units, exactly and rounded once."""
    # exact fractions: a cent of tax is a cent
    return gross_minor - round_minor(Fraction(gross_minor) / (1 + exact(percent) / 100))


def _parts_minor(family: Family, job: Job, supply: Supply) -> int:
    """Parts and small material of the repairs done since it last came back, at the workshop's cost.

    What was taken from the shelf stands at what was paid for it, the rest at a list's price, else
    the catalog's.
    """
    tasks, parts = done_tasks(family, job)
    # taken from the shelf first, then as bought new: what somebody chose for a quote is no cost
    offers = {
        key: (count, PartChoice(supply, kinds={key: "new"}).offer(family.parts[key], count))
        for key, count in needed_parts(tasks, parts).items()
    }
    bought = sum(offer.to_the_workshop.total_minor(count) for count, offer in offers.values())
    return sum(task.consumables_minor for task in tasks) + bought


def _harmless(text: str) -> str:
    # a spreadsheet shows the apostrophe to nobody and reads the cell as text
    return f"'{text}" if text.startswith(_FORMULA) else text
