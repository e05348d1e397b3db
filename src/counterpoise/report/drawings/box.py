"""The fallback for a family without a drawing: a plain box, its places as a list beside it."""

from __future__ import annotations

from counterpoise.catalog.drawing import MACHINE_WIDE, Drawing, DrawnPlace, Shape
from counterpoise.catalog.family import Family
from counterpoise.report.drawings.marks import Marks, place_words

_HIGH = 150.0


def box_drawing(family: Family, marks: Marks) -> Drawing:
    """A box on its feet, in it a line for each place that is marked, from the top down."""
    # each place once, in the order in which a hand comes to it
    names = dict.fromkeys(
        [*marks.here, *marks.opens, *marks.looked, *(tag.place for tag in marks.tags)]
    )
    sites = [name for name in names if name]
    # the casing first: the knobs lie on it
    places = {"": DrawnPlace("", family.title, _casing())}
    # the height of the box, shared out among them
    step = 100 / max(1, len(sites))
    for i, name in enumerate(sites):
        middle = 22 + (i + 0.5) * step
        knob = (Shape("rect", (MACHINE_WIDE - 64, middle - 4, 14, 8)),)
        places[name] = DrawnPlace(name, place_words(family, name), knob)
    title = f"{family.title}, as a plain box: its file brings no drawing"
    return Drawing(title, _HIGH, places, "invented")


def _casing() -> tuple[Shape, ...]:
    feet = tuple(Shape("rect", (x, 128, 16, 6), "solid") for x in (44, 132))
    return (
        Shape("line", (16, 136, 184, 136), "ground"),
        Shape("rect", (34, 16, 124, 112)),
        *feet,
    )
