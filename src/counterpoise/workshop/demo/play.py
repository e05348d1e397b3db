"""An invented workshop: its people, its settings, and three machines to be played to their end.

Workshop, people, makers, models and prices are invented. :mod:`counterpoise.workshop.demo.jobs`
holds the jobs of its book, :mod:`counterpoise.workshop.demo.machines` the three; :func:`seed`
writes them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from counterpoise.workshop.demo.jobs import BOOK, FIRST_DAY
from counterpoise.workshop.demo.machines import IN_PARTS, MACHINES, MENDED, TOO_DEAR, Machine, Said
from counterpoise.workshop.demo.stock import fill
from counterpoise.workshop.jobs.entries import Body, Closed, Entry, Intake, Job, Note
from counterpoise.workshop.jobs.job_file import JobFile

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from counterpoise.catalog.family import Family
    from counterpoise.workshop.jobs.settings import Settings
    from counterpoise.workshop.services.workshop import Workshop
    from counterpoise.workshop.store.store import Store

# Little that differs from the defaults, so that the demo shows what a new workshop sees.
SETTINGS = {
    "workshop_name": "The Back Bench, Alder Yard",
    "people": 2,
    "front_loader.resale_new_minor": 40000,
    "top_loader.resale_new_minor": 40000,
}
_OTHERWISE_MINUTES = 2.0  # between two entries that do not say how long they took
_LATEST = ("2026-03-18T08:00:00Z", "2026-03-18T09:10:00Z", "2026-03-18T10:20:00Z")


def play(
    workshop: Workshop, machine: Machine, answered: Callable[[int, Said], Body]
) -> Iterator[Job]:
    """Play a machine in a workshop; give its job after its intake and after each entry.

    ``answered`` puts a customer's answer to the quote of a job into an entry. A closing that names
    no money takes in what was agreed. Raises InputError where the catalog does not know an entry.
    """
    # A generator, so that a caller can look at pages and plan between two entries.
    number = workshop.jobs.open(machine.intake, machine.by).number
    yield workshop.jobs.get(number)
    for step in machine.steps:
        # The customer's answer needs a price, and the price is only known once the quote is made.
        body = answered(number, step) if isinstance(step, Said) else step
        if isinstance(body, Closed) and body.received_minor is None:
            decided = workshop.jobs.get(number).decision
            body = replace(body, received_minor=decided.agreed_minor if decided else None)
        workshop.jobs.record(number, body, machine.by)
        yield workshop.jobs.get(number)


def seed(store: Store, known: Mapping[str, Family] | None = None) -> list[Job]:
    """Write the invented workshop's settings, jobs and shelf into an empty store.

    Returns the jobs; any other store is left as it is, and the list is empty. The book ends today.
    Of the three machines all is known and nothing decided yet. ``known``: the families by id, so
    that closings keep the figures of their day.
    """
    # Never into a store that somebody works with.
    if store.jobs.lines():
        return []
    settings = store.settings.change(SETTINGS)
    latest: list[tuple[str, str, tuple[Body | timedelta, ...]]] = [
        (at, machine.by, (machine.intake, *machine.findings))
        for at, machine in zip(_LATEST, MACHINES, strict=True)
    ]
    # By the store's clock, so that tests get the same days every time.
    days = (date.fromisoformat(store.now()[:10]) - FIRST_DAY).days
    made = [entries_of(opened, by, steps, days) for opened, by, steps in [*BOOK, *latest]]
    # In one transaction: a demo that was stopped halfway begins again from nothing.
    jobs = store.jobs.add_all(
        JobFile(_with_terms(entries, known or {}, settings)) for entries in made
    )
    # The shelf needs the jobs' numbers, for one of them is a donor.
    fill(store, jobs)
    return jobs


def entries_of(
    opened: str, by: str, steps: Iterable[Body | timedelta], days: int = 0
) -> tuple[Entry, ...]:
    """Return bodies as numbered entries: each is written when it is done.

    ``opened`` is ISO 8601; a timedelta is a wait before the next entry; all of it happens ``days``
    later. An entry comes as many minutes after the one before as it says it took.
    """
    # Whole days: what happened at eight in the morning still does.
    later = timedelta(days)
    at = datetime.fromisoformat(opened).astimezone(UTC) + later
    out: list[Entry] = []
    for step in steps:
        if isinstance(step, timedelta):
            at += step
            continue
        # The intake has the time of its opening itself.
        if out:
            at += timedelta(minutes=getattr(step, "minutes", None) or _OTHERWISE_MINUTES)
        out.append(Entry(len(out) + 1, at.strftime("%Y-%m-%dT%H:%M:%SZ"), by, _later(step, later)))
    return tuple(out)


def _later(body: Body, by: timedelta) -> Body:
    """The days that a body names, moved."""
    # Or a promised day would lie in the past from the first look.
    if isinstance(body, Intake) and body.promised:
        return replace(body, promised=(date.fromisoformat(body.promised) + by).isoformat())
    if isinstance(body, Note) and body.parts_due:
        return replace(body, parts_due=(date.fromisoformat(body.parts_due) + by).isoformat())
    return body


def _with_terms(
    entries: tuple[Entry, ...], known: Mapping[str, Family], settings: Settings
) -> tuple[Entry, ...]:
    from counterpoise.workshop.billing.ledger import (
        closing_terms,  # brings in the planner; the list of jobs needs none of it
    )

    # The number is not known before it is stored, and the figures do not depend on it.
    family = known.get(Job(0, entries).intake.family)
    if family is None:
        return entries
    return tuple(
        replace(
            # As the job stood when it was closed: a later entry must not change what was promised
            # then.
            e,
            body=replace(e.body, terms=closing_terms(family, settings, Job(0, entries[: i + 1]))),
        )
        if isinstance(e.body, Closed)
        else e
        for i, e in enumerate(entries)
    )


__all__ = [
    "IN_PARTS",
    "MACHINES",
    "MENDED",
    "SETTINGS",
    "TOO_DEAR",
    "Machine",
    "Said",
    "entries_of",
    "play",
    "seed",
]
