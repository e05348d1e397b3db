"""Plain shapes as SVG, in one hand: ink lines on paper, one accent.

Lengths are in units of the drawing. The colours stand in attributes, so that a print and a
document know them; a page may set others by class (``ac`` accent, ``pp`` paper), and ink is the
colour of the text around.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from xml.sax.saxutils import escape

from counterpoise.catalog.drawing import Shape
from counterpoise.report.languages import tongue

INK, PAPER, ACCENT = "#14171a", "#fdfcf7", "#a5330c"
# of letters in units: at 360 px of page a unit is a pixel, and less than 12 px is not read
LETTER = 13
# a letter is about so wide, as a share of its height: of the widest of the usual faces, and bold
LETTER_WIDE, BOLD_WIDE = 0.56, 0.68
# by look: what the line is and what lies inside it
_LOOKS = {
    "plain": 'class="pp" fill="#fdfcf7"',
    "bare": 'fill="none"',
    "solid": 'fill="currentColor" stroke-width=".6"',
    "heavy": 'class="hv" fill="#cfcabb"',
    "thin": 'fill="none" stroke-width=".7"',
    "hidden": 'fill="none" stroke-width="1" stroke-dasharray="3 2.4"',
    "shade": 'class="sh" fill="#efebdf"',
    "holes": 'fill="none" stroke-width="2" stroke-dasharray="0 5"',
    "ground": 'fill="none" stroke-width="1"',
}


def number(value: float) -> str:
    """A length as short as can be, to a tenth of a unit."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def points(numbers: Sequence[float]) -> str:
    """The path from point to point, x and y in turn."""
    return "M" + " ".join(number(value) for value in numbers)


def stroke(shape: Shape) -> str:
    """A shape as one SVG element."""
    return f'<path {_LOOKS[shape.look]} d="{path(shape)}"/>'


def path(shape: Shape) -> str:
    """The outline of a shape (the ``d`` of a path)."""
    return _path(shape.kind, shape.numbers, shape.look)


# a few families have some hundred shapes each, and every page draws them again
@lru_cache(maxsize=4096)
def _path(kind: str, numbers: tuple[float, ...], look: str) -> str:
    if kind == "rect":
        left, top, wide, high = numbers
        return f"M{number(left)} {number(top)}h{number(wide)}v{number(high)}h{number(-wide)}z"
    if kind == "circle":
        x, y, r = (number(value) for value in numbers)
        across = number(2 * numbers[2])
        return f"M{x} {y}m-{r} 0a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z"
    if kind == "spring":
        return _spring(numbers)
    if kind == "damper":
        return _damper(numbers)
    if kind == "curve":
        return _curve(numbers)
    drawn = points(numbers) + ("z" if kind == "area" else "")
    return drawn + (_ticks(numbers) if look == "ground" else "")


def _along(numbers: Sequence[float]) -> tuple[float, tuple[float, float], tuple[float, float]]:
    """Length of the way between two ends, its direction, and the direction across it."""
    x0, y0, x1, y1 = numbers
    # two ends in one spot have no direction: any will do
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    dx, dy = (x1 - x0) / length, (y1 - y0) / length
    return length, (dx, dy), (-dy, dx)


def _spring(numbers: Sequence[float]) -> str:
    # a hook at each end and windings between, so that it is no saw blade
    x0, y0 = numbers[:2]
    length, (dx, dy), (ax, ay) = _along(numbers)
    ends, wide = min(6.0, length / 5), 5.0
    turns = max(4, round((length - 2 * ends) / 4.5))
    way = [(0.0, 0.0), (ends, 0.0)]
    # half a winding before and after: the last point lies between two turns
    step = (length - 2 * ends) / turns
    way += [(ends + (turn + 0.5) * step, wide * (-1) ** turn) for turn in range(turns)]
    way += [(length - ends, 0.0), (length, 0.0)]
    flat = [c for t, s in way for c in (x0 + dx * t + ax * s, y0 + dy * t + ay * s)]
    return points(flat)


def _damper(numbers: Sequence[float]) -> str:
    # a rod that slides in a sleeve, an eye at each end
    x0, y0, x1, y1 = numbers
    length, (dx, dy), (ax, ay) = _along(numbers)
    wide, eye = 4.2, 2.4

    def at(t: float, s: float) -> tuple[float, float]:
        return x0 + dx * t + ax * s, y0 + dy * t + ay * s

    sleeve = [*at(0.42 * length, wide), *at(length - eye, wide)]
    sleeve += [*at(length - eye, -wide), *at(0.42 * length, -wide)]
    rod = [*at(eye, 1.4), *at(0.42 * length, 1.4), *at(0.42 * length, -1.4), *at(eye, -1.4)]
    eyes = [path(Shape("circle", (x, y, eye))) for x, y in ((x0, y0), (x1, y1))]
    return points(sleeve) + "z" + points(rod) + "z" + "".join(eyes)


def _curve(numbers: Sequence[float]) -> str:
    """A smooth way through points: each bend's handles lie along its neighbours."""
    spots = list(zip(numbers[::2], numbers[1::2], strict=True))
    text = points(spots[0])
    for i in range(len(spots) - 1):
        before, here = spots[max(i - 1, 0)], spots[i]
        there, after = spots[i + 1], spots[min(i + 2, len(spots) - 1)]
        # a sixth of the way between the neighbours: the usual spline through given points
        first = (here[0] + (there[0] - before[0]) / 6, here[1] + (there[1] - before[1]) / 6)
        second = (there[0] - (after[0] - here[0]) / 6, there[1] - (after[1] - here[1]) / 6)
        text += "C" + " ".join(number(v) for spot in (first, second, there) for v in spot)
    return text


def _ticks(numbers: Sequence[float]) -> str:
    # short strokes behind the line, as ground and walls are drawn everywhere
    length, (dx, dy), (ax, ay) = _along(numbers[:4])
    count = max(2, round(length / 9))
    x0, y0 = numbers[:2]
    marks = ""
    for i in range(count):
        t = (i + 0.6) * length / count
        # away from the machine: across the line to the right of its direction
        x, y = x0 + dx * t, y0 + dy * t
        marks += f"M{number(x)} {number(y)}l{number(-4 * dx + 4 * ax)} {number(-4 * dy + 4 * ay)}"
    return marks


def words(x: float, y: float, text: str, more: str = "") -> str:
    """A line of text whose first letter stands at x, y."""
    return f'<text x="{number(x)}" y="{number(y)}"{more}>{escape(text)}</text>'


def picture(name: str, size: tuple[float, float], words_for: tuple[str, str], inside: str) -> str:
    """A whole SVG text: (wide, high) in units, its title and description for who cannot see it.

    ``name`` begins the ids in it, so that several may stand in a page; it is of letters, digits,
    ``-`` and ``_``.
    """
    wide, high = (number(value) for value in size)
    # said here, so that no picture is left out
    title, description = (escape(str(tongue.say(text))) for text in words_for)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="0 0 {wide} {high}"'
        f' role="img" aria-labelledby="{name}-t {name}-d" color="{INK}" fill="none"'
        ' stroke="currentColor" stroke-width="1.3" stroke-linejoin="round" stroke-linecap="round">'
        f'<title id="{name}-t">{title}</title><desc id="{name}-d">{description}</desc>'
        f"{inside}</svg>"
    )
