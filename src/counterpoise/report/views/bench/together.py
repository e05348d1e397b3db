"""What others do at the same job: who is there, and what was put down since one looked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.report.words.entry_lines import EntryLine, entry_lines

if TYPE_CHECKING:
    from counterpoise.workshop.services.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Together:
    """Who else looks at a job now (``here``, an empty name for somebody unnamed), by name.

    ``last`` is the number of its last entry, ``added`` the entries since the one asked about,
    oldest first; empty where there are none.
    """

    number: int
    last: int
    here: tuple[str, ...]
    added: tuple[EntryLine, ...]


def together(workshop: Workshop, number: int, since: int | None, place: str = "") -> Together:
    """Who is at a job beside ``place``, and what was added after the entry ``since``.

    The evidence is read only where there is something to tell. Raises NotFoundError.
    """
    # asked each second by every page that lies open: one number of the store, and no more
    last = workshop.jobs.last(number)
    here = workshop.presence.here(number, place)
    if since is None or last <= since:
        return Together(number, last, here, ())
    job = workshop.jobs.get(number)
    lines = entry_lines(job, workshop.family(job.intake.family), workshop.settings().currency)
    return Together(number, last, here, tuple(line for line in lines if line.number > since))
