"""Small drawings for measurements by hand and for what can hurt: one thing each, few lines."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cache

from counterpoise.catalog.drawing import SHAPES, Shape
from counterpoise.catalog.family import Family
from counterpoise.report.drawings.sketch_lines import ALL_LINES
from counterpoise.report.drawings.strokes import (
    ACCENT,
    LETTER,
    number,
    picture,
    points,
    stroke,
    words,
)
from counterpoise.report.drawings.tools import sign
from counterpoise.report.languages import tongue
from counterpoise.workshop.diagnosis.assessment import Step

WIDE, HIGH = 120, 84
# more beside one step would be a page of pictures instead of a step
MOST_BESIDE = 6
# a measurement by hand, KIND or KIND.NUMBER of docs/catalog.md, and its drawing
OF_MEASURE: Mapping[str, tuple[str, ...]] = {
    # what is typed in foot by foot: from above too, so that left is left
    "level": ("level_turned", "feet_above"),
    "level.gap": ("feeler_gauge", "feet_above"),
    "level_again": ("level_turned", "feet_above"),
    "runout": ("runout_clock",),
    "strike": ("strike_gap",),
    "play": ("back_and_forth",),
    "dampers": ("damper_push",),
    "bounce": ("bounce",),
    "springs": ("spring_lengths",),
    "counterweight": ("counterweight",),
    "bearing": ("bearing_turned",),
    "bearing_tones": ("bearing_turned",),
    "windings": ("meter_windings",),
    "safety": ("insulation",),
    "lift": ("lift_two",),
    "tip": ("tip_block",),
}


def title_of(name: str) -> str:
    """The words below a small drawing. Raises KeyError for an unknown name."""
    return ALL_LINES[name].title


def sketch(name: str, place: str = "small") -> str:
    """A small drawing as SVG; ``place`` begins its ids. Raises KeyError where there is none.

    120 by 84 units: shown no smaller than that in pixels, its letters are 12 px or more.
    """
    lines = ALL_LINES[name]
    return picture(
        f"{place}-{name}", (WIDE, HIGH), (lines.title, lines.words), _inside(name, tongue.reader())
    )


# drawn once for each language: letters stand in it
@cache
def _inside(name: str, _reader: str) -> str:
    drawn = "".join(_drawn(part.split()) for part in ALL_LINES[name].shapes.split(";"))
    return f'<g font-family="system-ui, sans-serif" font-size="{LETTER}">{drawn}</g>'


def _drawn(part: Sequence[str]) -> str:
    kind, *rest = part
    if kind == "text":
        middle = ' text-anchor="middle" stroke="none" fill="currentColor"'
        text = str(tongue.say(" ".join(rest[2:])))
        return words(float(rest[0]), float(rest[1]), text, middle)
    if kind == "sign":
        return sign(rest[2], float(rest[0]), float(rest[1]))
    look = rest.pop() if rest[-1].isalpha() else "plain"
    if kind not in SHAPES:
        raise KeyError(kind)
    shape = Shape(kind, tuple(float(value) for value in rest), "bare" if look in _STRONG else look)
    if look not in _STRONG:
        return stroke(shape)
    # drawn bare first, then given the accent: one way to draw each kind
    strong = stroke(shape).replace(
        'fill="none"', f'fill="none" class="al" stroke="{ACCENT}" stroke-width="2.4"'
    )
    return strong + (_head(shape.numbers) if look == "arrow" else "")


_STRONG = {"accent", "arrow"}


def _head(numbers: Sequence[float]) -> str:
    # the head lies along the last bit of the way
    (x0, y0), (x1, y1) = numbers[-4:-2], numbers[-2:]
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    dx, dy = (x1 - x0) / length, (y1 - y0) / length
    back, half = 8.0, 4.0
    corners = [x1, y1, x1 - back * dx - half * dy, y1 - back * dy + half * dx]
    corners += [x1 - back * dx + half * dy, y1 - back * dy - half * dx]
    way = points([float(number(value)) for value in corners])
    return f'<path class="ac" fill="{ACCENT}" stroke="none" d="{way}z"/>'


def beside_step(family: Family, step: Step | None) -> tuple[str, ...]:
    """Names of the small drawings for a step: how it is done first, then what can hurt, in order.

    At most six; none twice. None for an ending or where there is no step.
    """
    if step is None or step.kind == "ending":
        return ()
    # first how it is done: what can hurt stands in words above it already
    names = list(_of_entry(family, step))
    # a step holds its cautions as texts
    by_text = {caution.text: caution.sketch for caution in family.cautions.values()}
    texts = [*step.cautions, *(text for opening in step.openings for text in opening.cautions)]
    panels = [family.access[o.access] for o in step.openings if o.access in family.access]
    # the grave ones come first in a file and so stand first here
    names += [by_text.get(text, "") for text in texts] + [panel.sketch for panel in panels]
    return tuple(dict.fromkeys(name for name in names if name))[:MOST_BESIDE]


def _of_entry(family: Family, step: Step) -> Iterator[str]:
    if step.kind == "check" and (check := family.checks.get(step.id)):
        yield check.sketch
        yield from beside_measure(check.measures)
    if step.kind == "repair" and (repair := family.repairs.get(step.id)):
        yield repair.sketch


def beside_measure(kind: str) -> tuple[str, ...]:
    """The small drawings of a measurement, KIND or KIND.NUMBER; empty for none."""
    return OF_MEASURE.get(kind, OF_MEASURE.get(kind.partition(".")[0], ()))


def beside_form(kind: str) -> tuple[str, ...]:
    """Those of all that a form of a kind of measurement asks, each once."""
    names = [n for key, of in OF_MEASURE.items() if key.partition(".")[0] == kind for n in of]
    return tuple(dict.fromkeys(names))
