"""What was written meanwhile, by whom, for somebody whose own writing was held up by it."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.errors import ConflictError
from counterpoise.report.views.stock import movement_words
from counterpoise.report.words.entry_lines import EntryLine, entry_lines
from counterpoise.report.words.numbers import when
from counterpoise.workshop.jobs.entries import Body, Entry, Job
from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """What somebody else wrote since: ``added``, oldest first, each in a line of words.

    ``last`` is the number of the last entry (or movement of the lot) now: whoever knows it has seen
    all of them; None where writing on top of them makes no sense. ``yours`` is what was to be
    written, in the same words, or empty.
    """

    added: tuple[str, ...]
    yours: str
    last: int | None


def meanwhile(workshop: Workshop, conflict: ConflictError) -> Meanwhile:
    """What stands in the way of a writing, for a job or a lot. Raises NotFoundError."""
    if conflict.lot:
        lot = workshop.stock.book().lot(conflict.lot)
        # the newest comes first; it is read like a story
        moves = [m for m in workshop.stock.movements([lot.number]) if m.number > conflict.since]
        moved = tuple(f"{when(m.at)}, {m.by}: {movement_words(m)}" for m in reversed(moves))
        return Meanwhile(moved, "", lot.last)
    # another price list, another price: what was agreed to is no longer what is there
    if not conflict.job:
        return Meanwhile((), "", None)
    job = workshop.jobs.get(conflict.job)
    last = job.entries[-1].number
    body = conflict.sent if isinstance(conflict.sent, Body) else None
    lines = _lines(workshop, job, body)
    added = tuple(_words(line) for line in lines if conflict.since < line.number <= last)
    return Meanwhile(added, _said(lines[-1]) if body is not None else "", last)


def entry_words(workshop: Workshop, number: int, entry: int) -> str:
    """An entry of a job, by whom and when, in a line; empty where there is none of that number."""
    lines = _lines(workshop, workshop.jobs.get(number), None)
    return next((_words(line) for line in lines if line.number == entry), "")


def _lines(workshop: Workshop, job: Job, body: Body | None) -> tuple[EntryLine, ...]:
    """The entries in words, and last the one that was to be added, where there is one."""
    last = job.entries[-1]
    entries = job.entries if body is None else (*job.entries, Entry(last.number + 1, "", "", body))
    family = workshop.family(job.intake.family)
    return entry_lines(Job(job.number, entries), family, workshop.settings().currency)


def _words(line: EntryLine) -> str:
    return f"{when(line.at)}, {line.by or 'nobody named'}: {_said(line)}"


def _said(line: EntryLine) -> str:
    mark = "" if line.what.endswith("?") else ":"
    said = f"{line.what}{mark} {line.result}" if line.result else line.what
    return f"{said} ({line.note})" if line.note else said
