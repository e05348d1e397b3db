"""A machine to tap on when it comes in: each complaint that has a place, as a label over it.

The labels are those of the page's own tick boxes, so a tap ticks a box and no script is needed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from xml.sax.saxutils import escape, quoteattr

from counterpoise.catalog.drawing import MACHINE_WIDE
from counterpoise.catalog.family import Family
from counterpoise.report.drawings.machine import features_shown, spot, visible
from counterpoise.report.drawings.strokes import INK, LETTER, LETTER_WIDE, number, stroke
from counterpoise.report.languages import tongue

# a thumb's breadth in units: the picture is shown at least one and a half times as large
THUMB = 32.0
_PAD = 12.0
# more would cover the machine; a style sheet colours as many
MOST_TAPS = 12


@dataclass(frozen=True, slots=True)
class Tap:
    """A complaint over its place: (left, top) and width in units; its height is a thumb's."""

    complaint: str
    word: str
    left: float
    top: float
    wide: float


def taps(family: Family) -> tuple[Tap, ...]:
    """Where each complaint with a place is tapped, none over another; empty without a drawing."""
    if family.drawing is None:
        return ()
    features, drawing = features_shown(family, {}), family.drawing
    wanted = []
    for complaint in family.complaints.values():
        place = drawing.places.get(complaint.place)
        if place is None:
            continue
        x, y = spot(place, visible(place, features) or place.shapes)
        # its id in words is short enough for a thumb: the whole stands beside the tick box
        word = str(tongue.say(complaint.id.replace("_", " ").capitalize()))
        wide = max(THUMB, len(word) * LETTER * LETTER_WIDE + _PAD)
        left = min(max(x - wide / 2, 0.0), MACHINE_WIDE - wide)
        top = min(max(y - THUMB / 2, 0.0), drawing.high - THUMB)
        wanted.append(Tap(complaint.id, word, left, top, wide))
    placed: list[Tap] = []
    # from the floor upwards: what stands on it has nowhere lower to go
    for tap in sorted(wanted[:MOST_TAPS], key=lambda each: (-each.top, each.left)):
        placed.append(_free(tap, placed, drawing.high))
    return tuple(placed)


def _free(tap: Tap, placed: list[Tap], high: float) -> Tap:
    """The tap at the nearest spot where it lies over no other, within the drawing."""
    for dx, dy in _moves():
        left, top = tap.left + dx, tap.top + dy
        moved = Tap(tap.complaint, tap.word, left, top, tap.wide)
        inside = 0 <= left <= MACHINE_WIDE - tap.wide and 0 <= top <= high - THUMB
        if inside and not any(_over(moved, other) for other in placed):
            return moved
    return tap


@cache
def _moves() -> tuple[tuple[int, int], ...]:
    """Ways (right, down) in units to try one after the other, the shortest first."""
    # steps of four units: finer would be seen by nobody
    moves = [(dx, dy) for dx in range(-120, 121, 4) for dy in range(-160, 161, 4)]
    return tuple(sorted(moves, key=lambda move: (move[0] ** 2 + move[1] ** 2, move)))


def _over(tap: Tap, other: Tap) -> bool:
    aside = tap.left + tap.wide <= other.left or other.left + other.wide <= tap.left
    return not aside and abs(tap.top - other.top) < THUMB


def tap_picture(family: Family, boxes: Mapping[str, str], name: str = "taps") -> str:
    """The machine with its labels as an SVG text; ``boxes``: ids of the tick boxes by complaint.

    Empty where nothing of the family can be tapped.
    """
    drawing, spots = family.drawing, [tap for tap in taps(family) if tap.complaint in boxes]
    if drawing is None or not spots:
        return ""
    features = features_shown(family, {})
    shapes = [shape for place in drawing.places.values() for shape in visible(place, features)]
    order = list(family.complaints)
    inside = "".join(stroke(shape) for shape in shapes)
    for tap in spots:
        # the number of the complaint ties the label to its box in the style sheet
        label = f'<label class="tap tap-{order.index(tap.complaint)}"'
        inside += (
            f'<foreignObject x="{number(tap.left)}" y="{number(tap.top)}"'
            f' width="{number(tap.wide)}" height="{number(THUMB)}">{label}'
            f" for={quoteattr(boxes[tap.complaint])}>{escape(tap.word)}</label></foreignObject>"
        )
    # a group and no image: what lies in an image cannot be reached
    words = escape(str(tongue.say(f"{drawing.title}: tap where it is")))
    title = f'<title id="{name}-t">{words}</title>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing tappable" role="group"'
        f' viewBox="0 0 {MACHINE_WIDE} {number(drawing.high)}" aria-labelledby="{name}-t"'
        f' color="{INK}" fill="none" stroke="currentColor" stroke-width="1"'
        f' stroke-linejoin="round">{title}{inside}</svg>'
    )
