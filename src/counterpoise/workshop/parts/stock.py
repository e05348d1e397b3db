"""Stock as plain records: lots of pieces, and the movements that say what happened to them."""

from __future__ import annotations

from dataclasses import dataclass

from counterpoise.errors import NotFoundError
from counterpoise.money.order import Quality
from counterpoise.money.shelf import MovementKind


@dataclass(frozen=True, slots=True)
class Receipt:
    """Pieces that come in. ``item`` is a part of the family, or an assembly taken off a machine.

    ``cost_minor`` (minor units) is what one cost the workshop, ``asked_minor`` what a customer is
    asked for one before mark-up and tax (None: the catalog's price of a used one, else the cost).
    ``maker``: whose machines it fits, empty: any. ``donor``: the job of the machine it came off;
    ``good``: the probability that it was good then.
    """

    family: str
    item: str
    kind: Quality
    count: int
    place: str = ""
    cost_minor: int = 0
    asked_minor: int | None = None
    maker: str = ""
    model: str = ""
    donor: int | None = None
    good: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Move:
    """Something that happens to a lot.

    ``count``: how many pieces; for ``counted``, how many there are.
    """

    lot: int
    kind: MovementKind
    count: int = 0
    job: int | None = None
    place: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Movement:
    """A movement as it was put down at ``at`` (UTC, ISO 8601).

    ``pieces`` in stock and ``held`` for jobs are more or fewer by so many. ``undoes`` is the number
    of the movement it took back; ``undone``: another took this one back.
    """

    number: int
    lot: int
    at: str
    by: str
    kind: MovementKind
    pieces: int
    held: int
    job: int | None
    entry: int | None
    place: str
    note: str
    undoes: int | None
    undone: bool = False


@dataclass(frozen=True, slots=True)
class Lot:
    """Pieces of an item in stock, as they came in together.

    ``held`` and ``used`` are (job, pieces). ``last``: the number of its last movement. Money is
    minor units of one piece.
    """

    number: int
    family: str
    item: str
    kind: Quality
    cost_minor: int
    asked_minor: int | None
    maker: str
    model: str
    donor: int | None
    good: float | None
    at: str
    place: str
    pieces: int
    held: tuple[tuple[int, int], ...]
    used: tuple[tuple[int, int], ...]
    # a page that shows it can be told when somebody moved pieces since
    last: int

    @property
    def free(self) -> int:
        """Pieces that no job has reserved."""
        # reserved pieces lie on the shelf, but are promised
        return self.pieces - sum(count for _, count in self.held)

    def free_for(self, job: int) -> int:
        """Pieces that this job can have: those nobody reserved, and its own."""
        # a job's own reservation does not stand in its way
        return self.free + dict(self.held).get(job, 0)


@dataclass(frozen=True)
class StockBook:
    """All lots, empty ones too; ``mark`` is the number of the store's last movement."""

    mark: int
    lots: tuple[Lot, ...] = ()

    def of(self, family: str, item: str) -> tuple[Lot, ...]:
        """The lots of an item, oldest first; empty where none ever came in."""
        return tuple(lot for lot in self.lots if (lot.family, lot.item) == (family, item))

    def lot(self, number: int) -> Lot:
        """A lot. Raises NotFoundError."""
        # a workshop has hundreds, not millions: no index is worth its upkeep
        for lot in self.lots:
            if lot.number == number:
                return lot
        last = max((lot.number for lot in self.lots), default=0)
        remedy = f"The lots are numbered from 1 to {last}." if last else "Nothing lies there yet."
        raise NotFoundError(f"There is no lot {number} on the shelf", remedy=remedy)
