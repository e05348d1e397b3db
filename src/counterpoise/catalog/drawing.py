"""A kind of machine as a drawing: named places, each of plain shapes with their coordinates.

Lengths are in units of the drawing, x to the right and y down; a page shows one unit as about one
pixel of a small phone. What is drawn is a sketch for the hand and no plan: nothing is to scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from counterpoise.catalog.family import CheckEntry, Family, FaultEntry, RepairEntry

# the width of the machine in a drawing: what is right of it belongs to the labels
MACHINE_WIDE = 200
# the shapes: how many numbers each takes (a multiple of two, at least so many, where negative)
SHAPES: Mapping[str, int] = {
    "rect": 4,
    "circle": 3,
    "line": -4,
    "area": -6,
    "curve": -6,
    "spring": 4,
    "damper": 4,
}
# how a shape looks: paper with a line round it, line alone, filled, stone, thin, hidden, holes, ground
LOOKS = ("plain", "shade", "bare", "solid", "heavy", "thin", "hidden", "holes", "ground")
# the small drawings of report/drawings that a caution, check or repair may name; a test holds them
# together, as the catalog knows no drawing room
SKETCHES = frozenset(
    {
        "back_and_forth",
        "bare_wire",
        "bearing_turned",
        "bounce",
        "counterweight",
        "cracked",
        "damper_push",
        "drain_tray",
        "eye_shield",
        "feeler_gauge",
        "feet_above",
        "gloves",
        "guard_bridged",
        "hot",
        "insulation",
        "level_turned",
        "lid_prop",
        "lift_two",
        "lint",
        "live_leads",
        "magnets",
        "mask",
        "meter_windings",
        "pliers_not_fingers",
        "plug_out",
        "refrigerant",
        "runout_clock",
        "spinning",
        "spring_hook",
        "spring_lengths",
        "stacked",
        "stay_clear_wet",
        "stored_charge",
        "strike_gap",
        "tip_block",
        "transit_bolts",
        "tub_block",
        "upright",
        "walks_off",
    }
)


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape: its kind, numbers (lengths of the drawing) and look.

    Where it ``needs`` features, it is drawn only of machines that may have them.
    """

    kind: str
    numbers: tuple[float, ...]
    look: str = "plain"
    needs: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DrawnPlace:
    """A place of the machine: its words, shapes, and (x, y) of its mark.

    Without ``at`` the mark is put in the middle of its shapes. ``panel``: it comes off or opens.
    """

    id: str
    title: str
    shapes: tuple[Shape, ...]
    at: tuple[float, ...] = ()
    panel: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A machine cut open; places in the order in which they are drawn, the rear ones first."""

    title: str
    high: float
    places: Mapping[str, DrawnPlace]
    source: str


def bounds(kind: str, numbers: Sequence[float]) -> tuple[float, float, float, float]:
    """The least box round a shape, (left, top, right, bottom) in units of the drawing."""
    if kind == "rect":
        x, y, wide, high = numbers
        return x, y, x + wide, y + high
    if kind == "circle":
        x, y, radius = numbers
        return x - radius, y - radius, x + radius, y + radius
    return min(numbers[::2]), min(numbers[1::2]), max(numbers[::2]), max(numbers[1::2])


def place_of_fault(family: Family, fault: FaultEntry) -> str:
    """Where a fault sits: as its entry says, else where its assembly does; empty where neither."""
    return fault.place or _drawn(family, fault.assembly)


def place_of_access(family: Family, access: str) -> str:
    """Where a panel is: as its entry says, else the place of its own id; empty where there is none.

    Raises KeyError where the family has no such panel.
    """
    return family.access[access].place or _drawn(family, access)


def place_of_work(family: Family, work: CheckEntry | RepairEntry) -> str:
    """Where a check or repair is done; empty where nothing says so.

    As its entry says; else where most of the faults sit that it tells or cures; else its panel.
    """
    if work.place:
        return work.place
    rows = getattr(work, "under", None) or getattr(work, "cures", None) or {}
    # the order of the file decides between equals: the first row is what the work is about
    faults = dict.fromkeys(key.partition(":")[0] for key in rows)
    sites = [site for key in faults if (site := place_of_fault(family, family.faults[key]))]
    if sites:
        return max(dict.fromkeys(sites), key=sites.count)
    return place_of_access(family, work.access) if work.access else ""


def _drawn(family: Family, name: str) -> str:
    return name if family.drawing is not None and name in family.drawing.places else ""
