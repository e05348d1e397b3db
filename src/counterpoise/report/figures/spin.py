"""How reliable the verdict on a recorded spin is, as a figure."""

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

INK = "#1d2a33"
ACCENT = "#b3541e"
PALE = "#8a949b"
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
