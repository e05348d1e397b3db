"""What the entries of a job come to: worked on since it came back, guaranteed, the price said."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from datetime import date

from counterpoise.workshop.jobs.choices import MISTAKE
from counterpoise.workshop.jobs.entries import Closed, Entry, Job, Retraction
from counterpoise.workshop.jobs.settings import Settings

# other endings put nothing right that could be guaranteed
GUARANTEED = frozenset({"repair_hand_back", "repair_resell"})


def closings(job: Job) -> Iterator[Entry]:
    """Every handing over that was right when it was put down.

    The standing one, and those before a comeback: the ledger keeps them all. A job that was opened
    by mistake handed nothing over.
    """
    # a closing retracted as a mistake never happened; one retracted by a comeback did
    stands = {entry.number for entry in job.standing}
    stands |= {
        e.body.entry for e in job.entries if isinstance(e.body, Retraction) and e.body.comeback
    }
    return (
        entry
        for entry in job.entries
        if isinstance(entry.body, Closed)
        and entry.number in stands
        and entry.body.ending != MISTAKE
    )


def since_comeback(job: Job) -> tuple[Entry, ...]:
    """The standing entries since the machine last came back; all of them where it never did."""
    return tuple(entry for entry in job.standing if entry.number > job.came_back)


def guaranteed(job: Job, settings: Settings) -> bool:
    """Whether the machine came back within the guarantee given when it was handed over repaired."""
    # most machines never come back, and then nothing needs to be searched
    if not job.came_back:
        return False
    back = next(entry for entry in job.entries if entry.number == job.came_back)
    if not isinstance(back.body, Retraction):
        return False
    over = next(entry for entry in job.entries if entry.number == back.body.entry)
    if not isinstance(over.body, Closed) or over.body.ending not in GUARANTEED:
        return False
    # the guarantee is what was promised on the day, not what the settings say now
    months = int(over.body.terms.get("warranty_months", settings.warranty_months))
    return date.fromisoformat(back.at[:10]) <= months_later(
        date.fromisoformat(over.at[:10]), months
    )


def months_later(day: date, months: int) -> date:
    """The same day some months later, or the last one of a shorter month."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    # 31 January and a month is the end of February, as a customer would count
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
