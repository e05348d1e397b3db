"""A family's machine with its marks as one picture; a plain box where it brings no drawing."""

from __future__ import annotations

from collections.abc import Mapping

from counterpoise.catalog.drawing import MACHINE_WIDE, DrawnPlace, Shape, bounds
from counterpoise.catalog.family import Family
from counterpoise.report.drawings.box import box_drawing
from counterpoise.report.drawings.labels import label, place_tags, tie
from counterpoise.report.drawings.marks import Marks, place_words
from counterpoise.report.drawings.strokes import (
    ACCENT,
    LETTER,
    PAPER,
    number,
    path,
    picture,
    stroke,
)
from counterpoise.report.drawings.tools import SIGNS, sign

# of the whole picture in units: the width of a page on a small phone
WIDE = 324
# how strongly the least and the surest suspicion colours its place, of 1
_FAINTEST, _STRONGEST = 0.16, 0.8
# of the sign at its place, and how far it stands off, in units
_SIGN, _AWAY = 25.0, 30.0
_CLOSED = {"rect", "circle", "area", "damper"}


def features_shown(family: Family, has: Mapping[str, str]) -> dict[str, str]:
    """The features a drawing goes by: those known, else the commonest value of each."""
    shown = {}
    for feature in family.features.values():
        # what most machines of the kind have, until somebody has looked
        common = max(feature.share, key=lambda value: feature.share[value])
        shown[feature.id] = has.get(feature.id, common)
    return shown


def visible(place: DrawnPlace, features: Mapping[str, str]) -> tuple[Shape, ...]:
    """The shapes of a place that a machine of these features has."""
    return tuple(
        shape
        for shape in place.shapes
        if all(features.get(name) == value for name, value in shape.needs.items())
    )


def spot(place: DrawnPlace, shapes: tuple[Shape, ...]) -> tuple[float, float]:
    """Where the mark of a place stands (x, y): as the file says, else in the middle of it."""
    if place.at:
        return place.at[0], place.at[1]
    # of the box round all of it: a set stands on both sides, its mark between
    boxes = [bounds(shape.kind, shape.numbers) for shape in shapes]
    left, top = min(b[0] for b in boxes), min(b[1] for b in boxes)
    return (left + max(b[2] for b in boxes)) / 2, (top + max(b[3] for b in boxes)) / 2


def machine(family: Family, marks: Marks, name: str = "machine") -> str:
    """The machine with its marks as an SVG text; ``name`` begins its ids and is of letters."""
    drawing = family.drawing or box_drawing(family, marks)
    features = features_shown(family, marks.has)
    shapes = {key: visible(place, features) for key, place in drawing.places.items()}
    # what is marked is drawn even of a machine that is not known to have it
    asked = {*marks.here, *marks.opens, *(tag.place for tag in marks.tags)}
    shapes |= {k: p.shapes for k, p in drawing.places.items() if k in asked and not shapes[k]}
    drawn = {key: place for key, place in drawing.places.items() if shapes[key]}
    spots = {key: spot(place, shapes[key]) for key, place in drawn.items()}
    placed, high = place_tags(marks.tags, spots, drawing.high)
    inside = "".join(_place(shapes[key], marks.chances.get(key, 0.0)) for key in drawn)
    inside += "".join(_outline(shapes[key], hidden=True) for key in marks.opens if key in drawn)
    inside += "".join(_outline(shapes[key]) for key in marks.here if key in drawn)
    inside += "".join(_tick(*spots[key]) for key in marks.looked if key in drawn)
    inside += _near(marks, spots, drawing.high)
    inside += f'<g class="tied">{"".join(tie(tag) for tag in placed)}</g>'
    # text of its own: whatever stands around it on a page does not change its size
    labels = "".join(label(tag) for tag in placed)
    inside += f'<g font-family="system-ui, sans-serif" font-size="{LETTER}">{labels}</g>'
    wide = WIDE if placed else MACHINE_WIDE
    return picture(name, (wide, high), (drawing.title, description(family, marks)), inside)


def _place(shapes: tuple[Shape, ...], likely: float) -> str:
    drawn = "".join(stroke(shape) for shape in shapes)
    if not likely:
        return drawn
    deep = number(10 * (_FAINTEST + (_STRONGEST - _FAINTEST) * likely))
    # an opacity needs two places more than a length has; the tenth is enough
    share = f"{float(deep) / 10:.2f}".lstrip("0")
    # what has an inside is filled, a line glows: both are seen on grey paper too
    filled = "".join(path(shape) for shape in shapes if shape.kind in _CLOSED)
    lines = "".join(path(shape) for shape in shapes if shape.kind not in _CLOSED)
    tint = f'<path class="ac" fill="{ACCENT}" fill-opacity="{share}" stroke="none" d="{filled}"/>'
    glow = (
        f'<path class="al" stroke="{ACCENT}" stroke-opacity="{share}" stroke-width="4"'
        f' d="{lines}"/>'
    )
    return drawn + (tint if filled else "") + (glow if lines else "")


def _outline(shapes: tuple[Shape, ...], *, hidden: bool = False) -> str:
    way = "".join(path(shape) for shape in shapes)
    dashed = ' stroke-dasharray="5 3"' if hidden else ""
    return f'<path class="al" stroke="{ACCENT}" stroke-width="2.6"{dashed} d="{way}"/>'


def _near(marks: Marks, spots: Mapping[str, tuple[float, float]], high: float) -> str:
    """The hand or tool at its very place: shown by the style sheet where the labels are cut off."""
    drawn = ""
    for tag in marks.tags:
        if tag.sign and tag.place in spots:
            x, y = spots[tag.place]
            # beside the place, towards the middle of the machine, so that the place stays in sight
            x += _AWAY if x < MACHINE_WIDE / 2 else -_AWAY
            y = min(max(y + (_AWAY if y < high / 2 else -_AWAY), _SIGN), high - _SIGN)
            drawn += (
                f'<circle class="pp al" fill="{PAPER}" stroke="{ACCENT}" stroke-width="3"'
                f' cx="{number(x)}" cy="{number(y)}" r="{_SIGN:g}"/>{sign(tag.sign, x, y, 1.5)}'
            )
    return f'<g class="near" display="none" stroke-width="1.8">{drawn}</g>' if drawn else ""


def _tick(x: float, y: float) -> str:
    # a hook as on a list: it was looked at, whatever it showed
    return (
        f'<circle class="pp al" fill="#fdfcf7" stroke="{ACCENT}" stroke-width="1.6"'
        f' cx="{number(x)}" cy="{number(y)}" r="7"/>'
        f'<path class="al" stroke="{ACCENT}" stroke-width="2.2"'
        f' d="M{number(x - 3.4)} {number(y)}l2.6 3l4.6-6"/>'
    )


def description(family: Family, marks: Marks) -> str:
    """What the picture shows, in sentences, for who cannot see it."""
    # in the order in which a hand needs it
    said = []
    for tag in marks.tags:
        if tag.kind == "here":
            how = f", {SIGNS[tag.sign][0]}" if tag.sign else ""
            said.append(f"Here now: {tag.text}{how}.")
    panels = [tag.text for tag in marks.tags if tag.kind == "open"]
    if panels:
        said.append(f"To be opened first: {'; '.join(panels)}.")
    named = [
        f"{tag.text} ({place_words(family, tag.place)})"
        for tag in marks.tags
        if tag.kind == "suspect"
    ]
    if named:
        said.append(f"Suspected: {'; '.join(named)}.")
    if marks.looked:
        seen = "; ".join(place_words(family, place) for place in marks.looked)
        said.append(f"Looked at: {seen}.")
    return " ".join(said) or "Nothing is marked on it."
