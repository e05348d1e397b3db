"""Figures of a recorded spin: speed and levels, before and after, reliability of the verdict."""

import sys
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from counterpoise.spin.causes.posterior import stored_reliability
from counterpoise.spin.features.signature import levels
from counterpoise.spin.reading import Reading

INK = "#1d2a33"
ACCENT = "#b3541e"
PALE = "#8a949b"
RPM_APART = 20.0  # as finely as a phone tells speeds apart
Floats = NDArray[np.float64]


def svg(figure: Figure) -> bytes:
    """A figure as the bytes of an SVG, the same for the same figure."""
    out = BytesIO()
    with rc_context({"svg.hashsalt": "spin"}):
        figure.savefig(out, format="svg", metadata={"Date": None}, bbox_inches="tight")
    return out.getvalue()


def _plain(axes: Axes, x: str, y: str) -> None:
    axes.set_xlabel(x, color=INK)
    axes.set_ylabel(y, color=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(colors=INK)


def spin_figure(reading: Reading) -> Figure:
    """Speed in rpm over seconds, plateaus marked; below, shake once a turn over speed."""
    figure = Figure(figsize=(7, 6), layout="constrained")
    above, below = figure.subplots(2, 1)
    above.plot(reading.track.t_s, 60 * reading.track.f_hz, color=INK, lw=1.6)
    # a speed held is what the programme asked for
    for plateau in reading.course.plateaus:
        above.plot([plateau.start_s, plateau.end_s], [plateau.rpm, plateau.rpm], color=ACCENT, lw=4)
        above.annotate(
            f"{plateau.rpm:.0f}", (plateau.start_s, plateau.rpm), (0, 6), textcoords="offset points"
        )
    # from a standstill: half a scale makes a small wobble look like a run-up
    above.set_ylim(bottom=0)
    _plain(above, "seconds", "speed, rpm")
    _levels(below, reading, "this recording", INK, "-")
    _plain(below, "speed, rpm", "shake once a turn, m/s²")
    return figure


def proof_figure(before: Reading, after: Reading) -> Figure:
    """Shake once a turn in m/s2 over rpm, before (dashed) and after (solid) a repair."""
    figure = Figure(figsize=(7, 3.6), layout="constrained")
    axes = figure.subplots()
    _levels(axes, before, "before", PALE, "--")
    _levels(axes, after, "after", ACCENT, "-")
    axes.legend(frameon=False)
    _plain(axes, "speed, rpm", "shake once a turn, m/s²")
    return figure


def _levels(axes: Axes, reading: Reading, label: str, colour: str, style: str) -> None:
    """Draw medians of the first order over all axes, at speeds 20 rpm apart."""
    by_rpm = levels(reading.orders, reading.course)
    once_a_turn = by_rpm.total[1]
    slot = np.round(by_rpm.rpm / RPM_APART)
    slots = np.unique(slot)
    # a speed without a finite level leaves a gap in the line rather than a bridge over it
    medians = [
        np.median(once_a_turn[here]) if np.any(here) else np.nan
        for here in ((slot == each) & np.isfinite(once_a_turn) for each in slots)
    ]
    axes.plot(RPM_APART * slots, medians, style, color=colour, lw=1.8, label=label)
    axes.set_ylim(bottom=0)


# label, mean probability said, share that was true, number of cases: arrays (bins,)
Curve = tuple[str, Floats, Floats, Floats]


def reliability_figure(curves: Sequence[Curve]) -> Figure:
    """Probability said against share that was true, each curve with its number of cases."""
    figure = Figure(figsize=(5, 5), layout="constrained")
    axes = figure.subplots()
    # on the dotted line what is said is as often true as it is said to be
    axes.plot([0, 1], [0, 1], color=PALE, lw=1, ls=":")
    for (label, said, true, count), style in zip(curves, ("o-", "s--", "^:"), strict=False):
        axes.plot(
            said,
            true,
            style,
            label=f"{label} ({int(np.sum(count))} cases)",
            color=INK if style == "o-" else ACCENT,
        )
    axes.legend(frameon=False, loc="upper left")
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    _plain(axes, "probability said", "share that was true")
    return figure


def main() -> None:
    """Draw the reliability diagram of the shipped model to the SVG named on the command line.

    ``python -m counterpoise.report.figures.spin OUT.svg``
    """
    curves = [
        (label, *stored_reliability(kind))
        for kind, label in (("alone", "without baseline"), ("with_baseline", "with baseline"))
    ]
    Path(sys.argv[1]).write_bytes(svg(reliability_figure(curves)))


if __name__ == "__main__":
    main()
