"""How learning stands for a family, and how that is kept in the store as plain values."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from counterpoise.learning.readers import Calibration
    from counterpoise.workshop.learning.learn import Learned
    from counterpoise.workshop.learning.learned import LearnedFigure

# Before any closing: nothing is learned from, and the figures are the written ones.
NEVER = "0"


@dataclass(frozen=True, slots=True)
class ReaderState:
    """What closed jobs say of the reader of spins: of how many machines, and whether it is set.

    What another temperature and other weights gain, (bits a machine, error), each on machines it
    was not learned from; None where there are too few to say. ``least``: machines that it takes.
    """

    machines: int
    least: int
    set: bool
    temperature: tuple[float, float] | None = None
    weights: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class LearningState:
    """What is in use of a family: the figures, from how many closed jobs, learned when (UTC).

    ``least`` closed jobs are needed before anything is learned; ``until`` no later closing counts
    (empty: all do), ``off`` says that none does. ``taken_back`` are written figures that stay.
    ``rounds`` EM took, and whether it ``settled``.
    """

    family: str
    jobs: int
    least: int
    at: str = ""
    figures: tuple[LearnedFigure, ...] = ()
    until: str = ""
    taken_back: tuple[str, ...] = ()
    rounds: int = 0
    settled: bool = True
    reader: ReaderState | None = None

    @property
    def frozen(self) -> bool:
        """Whether new closings are left out."""
        return self.until not in {"", NEVER}

    @property
    def off(self) -> bool:
        """Whether nothing is learned at all."""
        return self.until == NEVER


def body_of(learned: Learned) -> dict[str, Any]:
    """What was learned as plain values: another version of the program may read it."""
    return {
        "jobs": learned.jobs,
        "rounds": len(learned.moves),
        "settled": learned.settled,
        "figures": [asdict(each) for each in learned.figures],
        "reader": _of_reader(learned.reader),
    }


def figures_of(body: dict[str, Any]) -> tuple[LearnedFigure, ...]:
    """The figures that were kept."""
    from counterpoise.workshop.learning.learned import LearnedFigure

    return tuple(LearnedFigure(**each | {"jobs": tuple(each["jobs"])}) for each in body["figures"])


def _of_reader(learned: Calibration | None) -> dict[str, Any] | None:
    """What is kept of how the reader was set, as plain values."""
    if learned is None:
        return None
    from counterpoise.learning.readers import LEAST_FOR_POWER

    # people speak of a temperature, sums of its inverse
    gains = {"temperature": learned.by_power, "weights": learned.by_weights}
    said = {name: [g.mean, g.error] if g else None for name, g in gains.items()}
    return {
        "machines": learned.machines, "least": LEAST_FOR_POWER, "set": learned.used, **said,
    }  # fmt: skip


def reader_of(body: dict[str, Any]) -> ReaderState | None:
    """How the reader of spins stood when it was kept; None where no job had a recording."""
    # stores of before know of none
    kept = body.get("reader")
    if kept is None:
        return None
    gains = {name: tuple(kept[name]) if kept[name] else None for name in ("temperature", "weights")}
    return ReaderState(kept["machines"], kept["least"], kept["set"], **gains)


__all__ = ["NEVER", "LearningState", "ReaderState", "body_of", "figures_of", "reader_of"]
