"""What mends a machine: repairs, parts, the sets that parts live in, assemblies of a donor.

Probabilities are 0..1, times minutes, money integer minor units.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class RepairEntry:
    """A repair: steps, parts, and how surely it cures each fault key."""

    id: str
    title: str
    minutes: float
    steps: tuple[str, ...]
    # fault key -> probability that it is gone afterwards
    cures: Mapping[str, float]
    source: str
    # part -> pieces
    parts: Mapping[str, int] = field(default_factory=dict)
    consumables_minor: int = 0
    access: str | None = None
    people: int = 1
    tools: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    needs: Mapping[str, str] = field(default_factory=dict)
    # how the hand knows that it is done
    done_when: str = ""
    # the machine is switched on for it
    runs: bool = False
    # where it is done in the drawing, and the small drawing beside it; empty: as its faults say
    place: str = ""
    sketch: str = ""


@dataclass(frozen=True, slots=True)
class PartEntry:
    """A part one can buy; ``rule`` says when it is bought as a set or brings others with it.

    One serves the machine however many repairs want it, unless ``each`` repair needs its own.
    """

    id: str
    title: str
    # to the workshop, before mark-up and tax
    price_minor: int
    assembly: str
    source: str
    # None: not sold used
    used_minor: int | None = None
    rule: str = ""
    # renewed along with it, once for all repairs that want it
    with_parts: tuple[str, ...] = ()
    each: bool = False


@dataclass(frozen=True, slots=True)
class AssemblyEntry:
    """What parting out yields; ``spoiled_by``: probability by fault key that it is spoiled."""

    id: str
    title: str
    value_minor: int
    # to take it off; an assembly that does not repay them stays on
    minutes: float
    source: str
    spoiled_by: Mapping[str, float] = field(default_factory=dict)
    needs: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PartSet:
    """Parts that live in a set (dampers, springs, rods), and what a piece of it may be spared.

    ``worn``: fault keys of a piece that lost its grip, oil or length, which means the set.
    ``condemns`` and ``others_good``: outcomes by check that show such a piece, or that the rest of
    the set is good; ``several``: those that show more than one bad piece.
    """

    id: str
    # as it stands in a sentence: "the set of dampers"
    title: str
    # the parts that make up the whole set
    parts: tuple[str, ...]
    worn: tuple[str, ...]
    # repairs: those that renew it whole, that put a piece back, that renew one piece
    renew: tuple[str, ...]
    source: str
    put_back: tuple[str, ...] = ()
    alone: tuple[str, ...] = ()
    # how a piece is tried before it goes back, and after
    try_it: str = ""
    condemns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    others_good: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    # up to this age the other pieces count as young; 0: one piece alone is never spared for youth
    young_years: float = 0.0
    needs: Mapping[str, str] = field(default_factory=dict)
