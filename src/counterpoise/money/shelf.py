"""Pieces on a shelf as plain counts: what each kind of movement does, and what it may not.

A holding is never edited: every movement adds to ``pieces`` and to what is ``held`` for jobs, and
is undone by its opposite. There are never fewer pieces than are held, and never fewer held for a
job than none.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

MovementKind = Literal[
    "received", "counted", "moved", "reserved", "released", "used", "written_off", "undone"
]
# movements that name a job; the others are of the shelf alone
FOR_A_JOB: tuple[MovementKind, ...] = ("reserved", "released", "used")
# more than any shelf of a small workshop holds: beyond it a finger slipped
MOST_PIECES = 100_000


@dataclass(frozen=True, slots=True)
class Holding:
    """How many pieces there are, and how many of them are held for each job by its number."""

    pieces: int = 0
    held: Mapping[int, int] = field(default_factory=dict)

    @property
    def free(self) -> int:
        """Pieces that nobody has reserved."""
        return self.pieces - sum(self.held.values())

    def after(self, pieces: int, held: int, job: int | None) -> Holding:
        """The holding after a movement. Raises InputError where that cannot be."""
        # a copy: holdings are shared between readers
        kept = dict(self.held)
        if job is not None:
            kept[job] = kept.get(job, 0) + held
        # jobs that hold nothing any more leave no trace in the mapping
        after = Holding(self.pieces + pieces, {key: count for key, count in kept.items() if count})
        # neither may a job give back what it does not hold, nor may a piece be held twice
        if min(kept.values(), default=0) < 0 or after.free < 0:
            raise InputError(
                f"there are not so many pieces: {_counts_text(self)}",
                field="count",
                remedy="Count them, or take fewer",
            )
        return after


def effect(
    holding: Holding, kind: MovementKind, count: int, job: int | None = None
) -> tuple[int, int]:
    """What a movement adds to pieces and to those held: (pieces, held).

    Raises InputError where it cannot be.

    ``count`` pieces; for ``counted``, how many there are.
    """
    if not 0 <= count <= MOST_PIECES or (count == 0 and kind not in {"counted", "moved"}):
        raise InputError(
            f"count: {count} cannot be", field="count", remedy="Give how many pieces, 1 or more"
        )
    if job is None and kind in FOR_A_JOB:
        raise InputError("job: say for which", field="job", remedy="Give the number of the job")
    if job is not None and kind not in FOR_A_JOB:
        raise InputError(
            "job: this is for no job in particular", field="job", remedy="Leave the job out"
        )
    reserved = holding.held.get(job or 0, 0)
    if kind == "released" and count > reserved:
        raise InputError(
            f"{count} cannot be let go: {_counts_text(holding)}",
            field="count",
            remedy=f"Let go of {reserved} or fewer"
            if reserved
            else f"None is reserved for job {job}, so nothing is to be done",
        )
    # the effect is tried on the holding before it is told, so that nothing goes below zero
    change = _EFFECTS[kind](holding, count, job or 0)
    holding.after(*change, job)
    return change


def _used(holding: Holding, count: int, job: int) -> tuple[int, int]:
    """Pieces held for this job go first."""
    return -count, -min(count, holding.held.get(job, 0))


_EFFECTS: Mapping[MovementKind, Callable[[Holding, int, int], tuple[int, int]]] = {
    "received": lambda _holding, count, _job: (count, 0),
    # a count sets the number; what is written down is the difference, so that it can be undone
    "counted": lambda holding, count, _job: (count - holding.pieces, 0),
    "moved": lambda _holding, _count, _job: (0, 0),
    "reserved": lambda _holding, count, _job: (0, count),
    "released": lambda _holding, count, _job: (0, -count),
    # reserved pieces leave with it, free ones only where those do not suffice
    "used": _used,
    "written_off": lambda _holding, count, _job: (-count, 0),
}


def _counts_text(holding: Holding) -> str:
    held = ", ".join(
        f"{count} reserved for job {job}" for job, count in sorted(holding.held.items())
    )
    return f"{holding.pieces} on the shelf{f', {held}' if held else ''}"
