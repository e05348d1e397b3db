"""A kind of machine as a drawing: named places, each of plain shapes with their coordinates.

Lengths are in units of the drawing, x to the right and y down; a page shows one unit as about one
pixel of a small phone. What is drawn is a sketch for the hand and no plan: nothing is to scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

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
# how a shape looks: plain is paper with a line round it, bare the line alone, heavy is stone
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
