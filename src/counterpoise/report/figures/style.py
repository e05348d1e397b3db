"""What the figures of the bench and of the machine in motion look like."""

from __future__ import annotations

# readable in black and white: the accent is as dark as the ink when a printer has no colour
INK, PAPER, SHADE, ACCENT = "#1c1b19", "#fdfcf8", "#d9d5ca", "#8a3b12"
# 360 px at 90 dots an inch: a small phone, held upright
WIDTH_IN = 4.0
DOTS_PER_INCH = 90
