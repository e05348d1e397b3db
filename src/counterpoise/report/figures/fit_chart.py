"""Shake once a turn against speed: as recorded (dots), and of the machine as fitted (line)."""

from __future__ import annotations

import math

import numpy as np
from markupsafe import Markup

from counterpoise.dynamics.fitting.spin_levels import SpinLevels
from counterpoise.dynamics.fitting.spin_recording import SpinFit
from counterpoise.report.figures.chart import Chart, round_ticks
from counterpoise.spin.recording import Floats

_PLOT, _TITLE, _FOOT, _KEY = 150.0, 34.0, 28.0, 26.0  # px
# shares left free: for the figures on the left, and so that the last dot is whole
_LEFT, _EDGE = 0.14, 0.02
_LEAST_MS2 = 1e-3  # below what a phone can read; keeps a logarithm finite
_MOST_DOTS = 90


def fit_chart(recorded: SpinLevels, fit: SpinFit, wide: float | None = None) -> Markup:
    """Both directions below each other, m/s2 on a logarithmic scale over speed in rpm.

    ``wide`` px for a file of its own, None on a page.
    """
    block = _TITLE + _PLOT + _FOOT
    chart = Chart(_KEY + 2 * block, wide)
    # the key first: dots and line mean the same in both plots
    chart.dot(0.02, 10, "ink")
    chart.words(0.05, 15, "recorded")
    chart.curve([(0.5, 0.5), (0.6, 0.5)], (4, 16), "accent")
    chart.words(0.62, 15, "fitted")
    directions = (
        ("Across", recorded.flat, fit.flat),
        ("Up and down", recorded.up, fit.up),
    )
    for place, (title, read, fitted) in enumerate(directions):
        top = _KEY + block * place
        _plot(chart, top, title, (recorded.rpm, read, fit.rpm, fitted))
    return chart.svg("Shake once a turn against speed, as recorded and of the machine as fitted.")


def _plot(
    chart: Chart, top: float, title: str, data: tuple[Floats, Floats, Floats, Floats]
) -> None:
    """One direction; ``data``: speeds and levels as read, speeds and levels as fitted (n,) each."""
    read_rpm, read, fit_rpm, fitted = data
    size = [np.log10(np.maximum(np.nan_to_num(each), _LEAST_MS2)) for each in (read, fitted)]
    # from a whole power of ten to the next, and never of no height
    low = math.floor(min(float(each.min()) for each in size))
    high = max(math.ceil(max(float(each.max()) for each in size)), low + 1)
    slow = float(min(read_rpm.min(), fit_rpm.min()))
    span = float(max(read_rpm.max(), fit_rpm.max())) - slow or 1.0
    base = top + _TITLE + _PLOT

    def across(rpm: float) -> float:
        return _LEFT + (1 - _LEFT - _EDGE) * (rpm - slow) / span

    chart.words(0, top + 15, f"{title}, once a turn, m/s²", bold=True)
    # a rule at each power of ten, and its figure on it
    for power in range(low, high + 1):
        line = base - _PLOT * (power - low) / (high - low)
        chart.rule(0, line, 1, line, "ink" if power == low else "faint")
        chart.words(0, line - 3, f"{10.0**power:g}")
    for rpm in round_ticks(slow, slow + span, 4):
        chart.rule(across(rpm), base, across(rpm), base + 5, "ink")
        # an outer figure would run over the edge if it stood in the middle
        edge = across(rpm) > 1 - 3 * _EDGE
        chart.words(across(rpm), base + 20, f"{rpm:g} rpm", "end" if edge else "middle")
    # what was read in ink, what is claimed of it in the accent over it
    step = max(1, len(read_rpm) // _MOST_DOTS)
    for rpm, level in zip(read_rpm[::step].tolist(), size[0][::step].tolist(), strict=True):
        chart.dot(across(rpm), base - _PLOT * (level - low) / (high - low), "ink")
    curve = [
        (across(rpm), (level - low) / (high - low))
        for rpm, level in zip(fit_rpm.tolist(), size[1].tolist(), strict=True)
    ]
    chart.curve(curve, (top + _TITLE, base), "accent")
