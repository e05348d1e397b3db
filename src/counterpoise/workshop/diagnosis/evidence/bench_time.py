"""What stands open on a machine, and the minutes the bench has spent on it; nothing is believed.

Books ask for the minutes of jobs long closed: they hang on what was done, not on what was thought.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
    Body,
    Finding,
    Job,
    Proof,
    RepairDone,
    Retraction,
)


def panels_for(family: Family, access: str | None) -> Iterable[str]:
    """The panel and all that lies before it, innermost first; empty where nothing needs opening."""
    while access is not None:
        yield access
        access = family.access[access].behind


def standing_bodies(job: Job) -> Iterator[Body]:
    """What counts of a job, in the order it was written; of the retractions only a comeback.

    One that was taken back never happened. A comeback is a retraction that stands for something:
    the closing it takes back was right.
    """
    standing = {entry.number for entry in job.standing}
    for entry in job.entries:
        body = entry.body
        counts = body.comeback if isinstance(body, Retraction) else entry.number in standing
        if counts:
            yield body


@dataclass
class BenchTime:
    """Panels that stand open and the minutes so far, opening and closing with them.

    What stands open is a matter of safety, who opened it first one of who pays: a spin empties the
    one and leaves the other.
    """

    family: Family
    opened: set[str] = field(default_factory=set)
    opened_by_checks: set[str] = field(default_factory=set)
    opened_by_repairs: set[str] = field(default_factory=set)
    minutes: float = 0.0

    def checked(self, entry: CheckEntry, finding: Finding) -> None:
        """A check was done, or tried."""
        # who could not reach a thing has opened nothing on the way that stays open
        if finding.outcome != CANNOT_REACH:
            # who could not tell what a spin showed has run it all the same
            if entry.kind == "spin":
                self._shut()
            way = self._open(entry.access)
            self.opened_by_checks |= way - self.opened_by_repairs
        # minutes put down are those of the check itself: opening is counted by the catalog
        self.minutes += entry.minutes if finding.minutes is None else finding.minutes

    def repaired(self, entry: RepairEntry, done: RepairDone) -> None:
        """A repair was done."""
        way = self._open(entry.access)
        self.opened_by_repairs |= way - self.opened_by_checks
        self.minutes += entry.minutes if done.minutes is None else done.minutes

    def proven(self, proof: Proof) -> None:
        """The proof was run, however it went."""
        self._shut()
        self.minutes += self.family.proof_minutes if proof.minutes is None else proof.minutes

    def came_back(self) -> None:
        """Whoever handed it over had shut it; what that took belongs to the closing before."""
        self.opened, self.opened_by_checks, self.opened_by_repairs = set(), set(), set()

    def _open(self, access: str | None) -> set[str]:
        """Open what is still shut on the way; returns all panels on it. Minutes are counted."""
        way = set(panels_for(self.family, access))
        # in this order, innermost first, sums of minutes are the same to the last bit each time
        for panel in panels_for(self.family, access):
            if panel not in self.opened:
                self.opened.add(panel)
                self.minutes += self.family.access[panel].open_min
        return way

    def _shut(self) -> None:
        """Close the machine, as every spin needs it: upright, panels on, drain trap shut.

        Closing is counted here and nowhere else; whoever goes on behind a panel opens it again,
        cautions and all.
        """
        self.minutes += sum(self.family.access[panel].close_min for panel in self.opened)
        self.opened = set()


def bench_minutes(family: Family, job: Job) -> float:
    """Minutes the bench has spent on a job, as its replay counts them, in a hundredth of the time.

    What the catalog no longer knows took no minutes that anybody could name.
    """
    time = BenchTime(family)
    for body in standing_bodies(job):
        match body:
            case Finding() if body.check in family.checks:
                time.checked(family.checks[body.check], body)
            case RepairDone() if body.repair in family.repairs:
                time.repaired(family.repairs[body.repair], body)
            case Proof():
                time.proven(body)
            case Retraction():
                time.came_back()
            case _:
                pass
    return time.minutes
