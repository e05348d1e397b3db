"""Labels beside a machine: tags of paper, each tied to its place, none over another."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from counterpoise.report.drawings.marks import Tag
from counterpoise.report.drawings.strokes import (
    ACCENT,
    BOLD_WIDE,
    LETTER,
    LETTER_WIDE,
    PAPER,
    number,
    words,
)
from counterpoise.report.drawings.tools import sign
from counterpoise.report.languages import tongue

# the column of labels, in units: right of the machine
LEFT, RIGHT = 207.0, 323.0
_POINT, _PAD, _LEAD = 6.0, 4.0, 15.0
_SIGN = 28.0
_GAP = 5.0
MOST_LINES = 4


@dataclass(frozen=True, slots=True)
class Placed:
    """A tag with its lines of text, its top and height, and the spot it is tied to (units)."""

    tag: Tag
    lines: tuple[str, ...]
    top: float
    high: float
    spot: tuple[float, float]


def wrapped(text: str, wide: float, *, bold: bool = False) -> tuple[str, ...]:
    """A text in lines no wider than ``wide`` units, at most four, cut with an ellipsis.

    It is put into the reader's language first.
    """
    letters = max(4, int(wide / (LETTER * (BOLD_WIDE if bold else LETTER_WIDE))))
    # a number and its sign belong on one line
    glued = str(tongue.say(text)).replace(" %", "\u00a0%")
    return tuple(
        textwrap.wrap(
            glued, letters, max_lines=MOST_LINES, placeholder=" …", break_on_hyphens=False
        )
    )


def place_tags(
    tags: Sequence[Tag], spots: Mapping[str, tuple[float, float]], high: float
) -> tuple[list[Placed], float]:
    """The tags from the top down in the order of their spots, and the height all of them need.

    ``spots``: by place, in units; a tag without one is left out. ``high``: of the machine.
    """
    drawn = sorted((tag for tag in tags if tag.place in spots), key=lambda t: spots[t.place][1])
    sized = []
    for tag in drawn:
        room = RIGHT - LEFT - _POINT - 2 * _PAD - (_SIGN if tag.sign else 0)
        lines = wrapped(tag.text, room, bold=tag.kind == "here")
        tall = max(_LEAD * len(lines) + 2 * _PAD, _SIGN + 2 if tag.sign else 0)
        sized.append((tag, lines, tall))
    total = sum(tall for *_, tall in sized) + _GAP * max(0, len(sized) - 1)
    # first as near to its spot as those above allow, then up again where the end sticks out
    tops: list[float] = []
    at = 1.0
    for tag, _, tall in sized:
        at = max(at, spots[tag.place][1] - tall / 2)
        tops.append(at)
        at += tall + _GAP
    floor = max(high, total + 2) - 1
    for i in range(len(sized) - 1, -1, -1):
        tops[i] = min(tops[i], floor - sized[i][2])
        floor = tops[i] - _GAP
    placed = [
        Placed(tag, lines, top, tall, spots[tag.place])
        for (tag, lines, tall), top in zip(sized, tops, strict=True)
    ]
    return placed, max(high, total + 2)


def tie(placed: Placed) -> str:
    """The string from a tag to its spot."""
    x, y = placed.spot
    middle = placed.top + placed.high / 2
    way = f"M{number(x)} {number(y)}L{number(LEFT)} {number(middle)}"
    # paper below it, so that it is seen across the lines of the machine
    below = f'<path class="pl" stroke="{PAPER}" stroke-width="3.4" d="{way}"/>'
    strong = placed.tag.kind == "here"
    line = f'<path class="al" stroke="{ACCENT}" stroke-width="{"2" if strong else "1"}" d="{way}"/>'
    if placed.tag.kind == "looked":
        # the tick stands there already
        return below + line
    dot = (
        f'<circle class="ac" fill="{ACCENT}" stroke="none" cx="{number(x)}" cy="{number(y)}"'
        f' r="{"4" if strong else "2.6"}"/>'
    )
    return below + line + dot


def label(placed: Placed) -> str:
    """A tag: paper cut to a point towards its place, the sign of the tool, the words."""
    tag, top, high = placed.tag, placed.top, placed.high
    middle = top + high / 2
    outline = (
        f"M{number(LEFT)} {number(middle)}L{number(LEFT + _POINT)} {number(top)}"
        f"H{number(RIGHT)}V{number(top + high)}H{number(LEFT + _POINT)}z"
    )
    look = {
        "here": f'class="pp al" fill="{PAPER}" stroke="{ACCENT}" stroke-width="2"',
        "open": f'class="pp al" fill="{PAPER}" stroke="{ACCENT}" stroke-dasharray="5 3"',
    }.get(tag.kind, f'class="pp" fill="{PAPER}" stroke-width="1"')
    inside = f'<path {look} d="{outline}"/>'
    x = LEFT + _POINT + _PAD
    if tag.sign:
        inside += sign(tag.sign, x + _SIGN / 2 - 1, middle)
        x += _SIGN
    first = middle - _LEAD * len(placed.lines) / 2 + LETTER - 1.5
    bold = ' font-weight="700"' if tag.kind == "here" else ""
    text = "".join(words(x, first + _LEAD * i, line) for i, line in enumerate(placed.lines))
    return f'{inside}<g stroke="none" fill="currentColor"{bold}>{text}</g>'
