"""A job while it is taken in entry by entry: what checks ask of it costs the same at any length."""

from __future__ import annotations

from dataclasses import dataclass, field

from counterpoise.workshop.jobs.entries import Closed, Entry, Intake, Job, Retraction


@dataclass(slots=True)
class _Standing:
    """What stands, by number: all of it, and the kinds that checks ask for again and again."""

    every: dict[int, Entry] = field(default_factory=dict)
    intakes: dict[int, Intake] = field(default_factory=dict)
    closings: dict[int, Closed] = field(default_factory=dict)

    def add(self, entry: Entry) -> None:
        """Let an entry stand, or take away what it takes back."""
        body = entry.body
        if isinstance(body, Retraction):
            for kept in (self.every, self.intakes, self.closings):
                kept.pop(body.entry, None)
            return
        self.every[entry.number] = entry
        if isinstance(body, Intake):
            self.intakes[entry.number] = body
        elif isinstance(body, Closed):
            self.closings[entry.number] = body


class GrowingJob(Job):
    """A job without a number, to which entries are added one after another.

    It says of itself what a job of the same entries says. Read whole at each entry, twenty thousand
    took minutes.
    """

    __slots__ = ("_standing",)
    _standing: _Standing

    def __init__(self) -> None:
        # the record is frozen; these two stay the same and are filled
        object.__setattr__(self, "number", 0)
        object.__setattr__(self, "entries", [])
        object.__setattr__(self, "_standing", _Standing())

    def add(self, entry: Entry) -> None:
        """Add the next entry."""
        self.entries.append(entry)  # type: ignore[attr-defined]  # a list here, see above
        self._standing.add(entry)

    @property
    def standing(self) -> tuple[Entry, ...]:
        """The entries that hold: neither retracted nor retractions."""
        return tuple(self._standing.every.values())

    def stands(self, number: int) -> bool:
        """Whether an entry holds."""
        return number in self._standing.every

    @property
    def intake(self) -> Intake:
        """The latest standing intake."""
        return next(reversed(self._standing.intakes.values()))

    @property
    def closed(self) -> Closed | None:
        """How the job ended, None where it is open."""
        return next(reversed(self._standing.closings.values()), None)


def entry_of(job: Job, number: int) -> Entry | None:
    """The entry of a number, None where there is none."""
    # numbered from 1 without gaps, so mostly it is where it is looked for first
    if 0 < number <= len(job.entries) and job.entries[number - 1].number == number:
        return job.entries[number - 1]
    # an outline of a job has gaps
    return next((each for each in job.entries if each.number == number), None)


def stands(job: Job, number: int) -> bool:
    """Whether an entry holds."""
    # asked of thousands of entries in turn, a look at all of them each time takes minutes
    if isinstance(job, GrowingJob):
        return job.stands(number)
    return any(each.number == number for each in job.standing)
