"""What stands open on a machine, and the minutes the bench has spent on it; nothing is believed.

Books ask for the minutes of jobs long closed: they hang on what was done, not on what was thought.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from counterpoise.catalog.family import CheckEntry, Family, RepairEntry
from counterpoise.workshop.jobs.entries import (
    CANNOT_REACH,
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

    def checked(self, entry: CheckEntry, minutes: float | None, *, reached: bool) -> None:
        """A check was done, or tried; ``minutes`` None where nobody put them down."""
        # who could not reach a thing has opened nothing on the way that stays open
        if reached:
            # who could not tell what a spin showed has run it all the same
            if entry.kind == "spin":
                self._shut()
            way = self._open(entry.access)
            self.opened_by_checks |= way - self.opened_by_repairs
        # minutes put down are those of the check itself: opening is counted by the catalog
        self.minutes += entry.minutes if minutes is None else minutes

    def repaired(self, entry: RepairEntry, minutes: float | None) -> None:
        """A repair was done."""
        way = self._open(entry.access)
        self.opened_by_repairs |= way - self.opened_by_checks
        self.minutes += entry.minutes if minutes is None else minutes

    def proven(self, minutes: float | None) -> None:
        """The proof was run, however it went."""
        self._shut()
        self.minutes += self.family.proof_minutes if minutes is None else minutes

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
    time, standing = BenchTime(family), {entry.number for entry in job.standing}
    for entry in job.entries:
        match entry.body:
            case Retraction(comeback=True):
                time.came_back()
            case body if entry.number not in standing:
                pass
            case Finding(check=check) as body if check in family.checks:
                reached = body.outcome != CANNOT_REACH
                time.checked(family.checks[check], body.minutes, reached=reached)
            case RepairDone(repair=repair) as body if repair in family.repairs:
                time.repaired(family.repairs[repair], body.minutes)
            case Proof() as body:
                time.proven(body.minutes)
            case _:
                pass
    return time.minutes
