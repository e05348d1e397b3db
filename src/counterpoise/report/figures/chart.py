"""Charts as SVG that widen with the page while their letters keep their size.

Places across are shares of the width, 0 to 1; places down are px. On a page the chart is as wide as
there is room and takes its colours from the page, light or dark; on paper its width is fixed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from markupsafe import Markup, escape

from counterpoise.report.languages import tongue

# Attributes that hold where no style sheet is read (paper); a page sets ``accent`` anew.
ACCENT = "#a5330c"
Kind = Literal["ink", "accent", "pale", "faint"]
_COLOURS: dict[Kind, tuple[str, float]] = {
    "ink": ("currentColor", 1.0),
    "accent": (ACCENT, 1.0),
    # shades of the ink rather than greys: they hold on dark paper as on light
    "pale": ("currentColor", 0.28),
    "faint": ("currentColor", 0.22),
}
Anchor = Literal["start", "middle", "end"]
FILE_PX = 640.0  # width of a drawing as a file of its own
LETTERS_PX = 14  # read at arm's length; 12 is the least that any label may have
_FONTS = "system-ui, 'Libertinus Serif', sans-serif"
_INNER = 1000  # a curve is drawn on a square of this side and stretched to its place


class Chart:
    """A chart of ``high`` px; ``wide`` px on paper, None where it takes the page's width."""

    def __init__(self, high: float, wide: float | None = None) -> None:
        self._high, self._wide = high, wide
        self._parts: list[str] = []

    def rule(self, x: float, y: float, to_x: float, to_y: float, kind: Kind = "faint") -> None:
        """A thin straight line between two places."""
        self._parts.append(
            f'<line x1="{_across(x)}" y1="{y:g}" x2="{_across(to_x)}" y2="{to_y:g}"'
            f"{_paint('stroke', kind)}/>"
        )

    def bar(self, x: float, y: float, to_x: float, high: float, kind: Kind = "pale") -> None:
        """A bar from ``x`` to ``to_x`` (shares), ``high`` px; a bar of nothing is a hair."""
        # a range of nothing is drawn all the same: it was looked at
        across = max(abs(to_x - x), 0.003)
        self._parts.append(
            f'<rect x="{_across(min(x, to_x))}" y="{y:g}" width="{_across(across)}"'
            f' height="{high:g}"{_paint("fill", kind)}/>'
        )

    def tick(self, x: float, y: float, high: float, kind: Kind = "ink") -> None:
        """An upright mark 4 px thick over the place ``x``."""
        self._parts.append(
            f'<rect x="{_across(x)}" y="{y:g}" width="4" height="{high:g}"'
            f' transform="translate(-2 0)"{_paint("fill", kind)}/>'
        )

    def dot(self, x: float, y: float, kind: Kind = "ink") -> None:
        """A round dot of 3 px."""
        self._parts.append(f'<circle cx="{_across(x)}" cy="{y:.1f}" r="3"{_paint("fill", kind)}/>')

    def words(
        self, x: float, y: float, text: str, anchor: Anchor = "start", *, bold: bool = False
    ) -> None:
        """Letters on the line ``y``, in the reader's language."""
        said = escape(str(tongue.say(text)))
        # no size of its own: every label of a chart is as large as any other
        weight = ' font-weight="700"' if bold else ""
        self._parts.append(
            f'<text x="{_across(x)}" y="{y:g}" text-anchor="{anchor}"{weight}>{said}</text>'
        )

    def curve(
        self,
        places: Sequence[tuple[float, float]],
        box: tuple[float, float],
        kind: Kind = "ink",
        *,
        dashed: bool = False,
    ) -> None:
        """A line through (across, up) shares of a box from ``box[0]`` to ``box[1]`` px.

        A place that is not finite leaves a gap.
        """
        top, bottom = box
        for piece in _pieces(places):
            # on paper nothing stretches: px, and a stroke that stays as thick along as across
            wide, high = (_INNER, _INNER) if self._wide is None else (self._wide, bottom - top)
            at = " ".join(f"{wide * x:.1f},{high * (1 - up):.1f}" for x, up in piece)
            dash = ' stroke-dasharray="6 4"' if dashed else ""
            line = (
                f'<polyline points="{at}" fill="none" stroke-width="2.2"'
                f' vector-effect="non-scaling-stroke"{dash}{_paint("stroke", kind)}/>'
            )
            # a page stretches the curve alone; its stroke and all letters stay as they are
            self._parts.append(
                f'<svg x="0" y="{top:g}" width="100%" height="{bottom - top:g}"'
                f' viewBox="0 0 {_INNER} {_INNER}" preserveAspectRatio="none">{line}</svg>'
                if self._wide is None
                else f'<g transform="translate(0 {top:g})">{line}</g>'
            )

    def svg(self, words: str) -> Markup:
        """The chart; ``words`` say it to whoever cannot see it (nothing of them is markup)."""
        # without a viewBox nothing scales with the width: shares of it are all that grows
        size = (
            f'width="100%" height="{self._high:g}"'
            if self._wide is None
            else f'width="{self._wide:g}" height="{self._high:g}"'
            f' viewBox="0 0 {self._wide:g} {self._high:g}"'
        )
        said = escape(str(tongue.say(words)))
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" {size} role="img"'
            f' aria-label="{said}" font-family="{_FONTS}" font-size="{LETTERS_PX}"'
            ' fill="currentColor">'
        )
        return Markup(head + "".join(self._parts) + "</svg>")  # noqa: S704  # texts are escaped


def _across(share: float) -> str:
    return f"{100 * share:.2f}%"


def _paint(how: Literal["fill", "stroke"], kind: Kind) -> str:
    colour, thick = _COLOURS[kind]
    # an attribute and a class: paper reads the one, a page may set the other anew
    through = "" if thick == 1 else f' {how}-opacity="{thick:g}"'
    return f' class="{how}-{kind}" {how}="{colour}"{through}'


def _pieces(places: Sequence[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    """The runs of finite places; one alone is no line and is left out."""
    runs: list[list[tuple[float, float]]] = [[]]
    for x, up in places:
        if math.isfinite(x) and math.isfinite(up):
            runs[-1].append((x, up))
        else:
            # a new run: a line over a gap would claim what nobody measured
            runs.append([])
    return [run for run in runs if len(run) > 1]


def round_ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round numbers from ``low`` to ``high`` or just inside, at most ``most`` of them."""
    span = high - low
    if span <= 0:
        return [low]
    rough = span / most
    size = 10.0 ** math.floor(math.log10(rough))
    # 1, 2, 5: what a person counts in
    for times in (1, 2, 5, 10, 20):
        step = times * size
        first, last = math.ceil(low / step), math.floor(high / step)
        if last - first + 1 <= most:
            return [step * place for place in range(first, last + 1)]
    return [low, high]
