"""What the figures of the bench and of the machine in motion look like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.report.languages import tongue

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# readable in black and white: the accent is as dark as the ink when a printer has no colour
INK, PAPER, SHADE, ACCENT = "#1c1b19", "#fdfcf8", "#d9d5ca", "#8a3b12"
# 360 px at 90 dots an inch: a small phone, held upright
WIDTH_IN = 4.0
DOTS_PER_INCH = 90


def in_words(figure: Figure) -> Figure:
    """The same figure, every text of it in the language that is read just now."""
    # texts are looked for only where somebody reads another language: most figures are drawn once
    if tongue.reader() != tongue.SOURCE:
        from matplotlib.text import Text

        for text in figure.findobj(Text):
            lines = text.get_text().split("\n")
            text.set_text("\n".join(str(tongue.say(line)) for line in lines))
    return figure
