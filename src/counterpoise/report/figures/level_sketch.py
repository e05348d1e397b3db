"""The sketch beside the level form: one tool read twice at one spot, turned between."""

from __future__ import annotations

from xml.sax.saxutils import escape

from counterpoise.report.figures.style import ACCENT, INK, PAPER, SHADE
from counterpoise.report.languages import tongue

WORDS = (
    "Two drawings of a level lying on the machine. In the first its marked end points right or to"
    " the rear and it shows plus 0.8; in the second it is turned end for end, the marked end points"
    " left or to the front, and it shows minus 0.4. Both are written as the tool shows them."
)
_WIDE, _HIGH = 320, 190
_TOP = 70  # of the machine's top panel below the first line, in px


def level_sketch() -> str:
    """The sketch as an SVG text, 320 by 190 px; nothing in it comes from outside."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE} {_HIGH}" role="img"'
        ' font-family="sans-serif" font-size="13">'
        f'<rect width="{_WIDE}" height="{_HIGH}" fill="{PAPER}"/>'
        + _laid(0, "1st box: as it shows", "+0.8", mark_right=True)
        + _laid(95, "2nd box: turned end for end", "−0.4", mark_right=False)
        + "</svg>"
    )


def _laid(y: int, title: str, shows: str, *, mark_right: bool) -> str:
    # the machine leans by the same two pixels both times: only the tool is turned
    left, right = y + _TOP + 2, y + _TOP - 2
    mark = 258 if mark_right else 46
    title, shown = (escape(str(tongue.say(text))) for text in (title, f"shows {shows}"))
    return (
        f'<text x="10" y="{y + 18}" fill="{INK}" font-weight="bold">{title}</text>'
        f'<path d="M20 {left}L300 {right}V{y + 88}H20Z" fill="{SHADE}" stroke="{INK}"/>'
        f'<path d="M40 {left - 2}L280 {right - 1}V{right - 30}L40 {left - 31}Z"'
        f' fill="{PAPER}" stroke="{INK}" stroke-width="2"/>'
        f'<circle cx="{mark + 8}" cy="{y + _TOP - 17}" r="8" fill="{ACCENT}"/>'
        f'<text x="160" y="{y + _TOP - 12}" fill="{INK}" text-anchor="middle">{shown}</text>'
    )
