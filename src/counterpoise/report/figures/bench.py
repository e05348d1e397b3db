"""Figures of the measurements by hand: readable at arm's length, in black and white, at 360 px.

Each builder gives a matplotlib ``Figure`` that belongs to no window; pages, terminal and paper save
the same one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, cast

import numpy as np
from matplotlib.figure import Figure

from counterpoise.bench.dampers import WORN_SHARE, DamperSet
from counterpoise.bench.level import Level
from counterpoise.bench.level_check import LevelCheck
from counterpoise.bench.runout import Runout
from counterpoise.report.figures.style import ACCENT, DOTS_PER_INCH, INK, PAPER, SHADE, WIDTH_IN

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.projections.polar import PolarAxes

    from counterpoise.bench.feet import Feet
    from counterpoise.bench.quantity import Quantity, Result, Scale
    from counterpoise.bench.runout import Rim

# a lean in degrees below which no arrow is drawn, and one above which it grows no longer
LEAST_LEAN, MOST_LEAN = 0.02, 2.0


def figure_of(result: Result) -> Figure:
    """The figure that suits a result: feet, rim, dampers, or each measure on its own scale."""
    if isinstance(result, LevelCheck):
        return level_figure(result.now)
    if isinstance(result, Level):
        return level_figure(result)
    if isinstance(result, Runout):
        return runout_figure(result)
    return dampers_figure(result) if isinstance(result, DamperSet) else scale_figure(result)


def _blank(height_in: float) -> Figure:
    return Figure(
        figsize=(WIDTH_IN, height_in), dpi=DOTS_PER_INCH, facecolor=PAPER, layout="constrained"
    )


def scale_figure(result: Result) -> Figure:
    """Every measure on a line of its own: 90 % interval, value, the bins of its scale in words."""
    measures = list(result.measures.items())
    figure = _blank(0.5 + 1.15 * max(1, len(measures)))
    for axes, (name, quantity) in zip(
        _stack(figure, max(1, len(measures))), measures, strict=False
    ):
        _strip(axes, name.replace("_", " "), quantity, result.SCALES.get(name))
    return figure


def _stack(figure: Figure, count: int) -> list[Axes]:
    return [figure.add_subplot(count, 1, place + 1) for place in range(count)]


def _strip(axes: Axes, title: str, quantity: Quantity, scale: Scale | None) -> None:
    """One line: shaded bins with words, the interval as a bar, the value as a diamond."""
    edges = scale.edges if scale else ()
    low, high = _window(quantity, edges)
    axes.set_facecolor(PAPER)
    axes.set(xlim=(low, high), ylim=(0, 1), yticks=[])
    axes.set_title(f"{title}: {quantity}", fontsize=10, color=INK, loc="left")
    # a scale of n edges has n + 1 words
    ends = [low, *edges, high]
    for place, word in enumerate(scale.words if scale else ()):
        left, right = ends[place], ends[place + 1]
        # the further along the scale, the darker: told apart in black and white too
        axes.axvspan(left, right, color=SHADE, alpha=0.25 + 0.65 * place / len(edges))
        axes.text((left + right) / 2, 0.82, word, ha="center", va="center", fontsize=8, color=INK)
    axes.plot(
        [quantity.low, quantity.high],
        [0.35, 0.35],
        color=ACCENT,
        linewidth=5,
        solid_capstyle="butt",
    )
    axes.plot([quantity.value], [0.35], marker="D", color=INK, markersize=7)
    axes.tick_params(labelsize=8, colors=INK)
    for side in ("top", "left", "right"):
        axes.spines[side].set_visible(False)


def _window(quantity: Quantity, edges: tuple[float, ...]) -> tuple[float, float]:
    """Ends of the line: all of the interval and all bins, with room for the outer words."""
    points = [quantity.low, quantity.high, quantity.value, *edges]
    # what cannot be negative is drawn from nought
    if min(points) >= 0:
        points.append(0.0)
    # all at one place: any width will do
    span = max(points) - min(points) or 1.0
    low = (
        min(points)
        if min(points) == 0 and (not edges or edges[0] > 0)
        else min(points) - 0.3 * span
    )
    return low, max(points) + 0.35 * span


# x to the right, y to the rear, as one stands before the machine
CORNERS = {"front left": (0, 0), "front right": (1, 0), "rear left": (0, 1), "rear right": (1, 1)}


def level_figure(result: Level, feet: Feet | None = None) -> Figure:
    """Cabinet from above, front at the bottom: turns of each foot, and its lean in degrees."""
    figure = _blank(4.0)
    axes = figure.add_subplot(1, 1, 1)
    # where the feet were not measured the cabinet is drawn square
    shape = feet.depth_m / feet.width_m if feet else 1.0
    axes.set_aspect(shape)
    axes.set(xlim=(-0.5, 1.5), ylim=(-0.45, 1.4))
    axes.axis("off")
    axes.plot([0, 1, 1, 0, 0], [0, 0, 1, 1, 0], color=INK, linewidth=2)
    # the page lies on the floor before the machine: its front is towards the reader
    axes.text(0.5, -0.36, "front", ha="center", fontsize=11, color=INK)
    # a foot that is not named is left as it is
    turns = {turn.foot: turn.turns for turn in result.advice.turns}
    for foot, (x, y) in CORNERS.items():
        _foot(axes, (x, y), turns.get(foot, 0.0), floats=foot == result.floating)
    _lean_arrow(axes, result)
    return figure


def _foot(axes: Axes, place: tuple[int, int], turns: float, *, floats: bool) -> None:
    """Draw a foot: hollow where it floats; below or above it in words what to do."""
    from counterpoise.bench.feet import spell_turns

    axes.plot(
        [place[0]],
        [place[1]],
        marker="o",
        markersize=17,
        color=INK,
        markerfacecolor=PAPER if floats else INK,
    )
    # what to do, not what was measured: somebody kneels there with a spanner
    word = (
        f"{spell_turns(abs(turns))}\n{'OUT (up)' if turns > 0 else 'IN (down)'}"
        if turns
        else "leave"
    )
    text = f"{word}\nfloats" if floats else word
    # the words stand outside the cabinet, on the side of their foot
    top = place[1] == 1
    axes.text(
        place[0],
        1.1 if top else -0.1,
        text,
        ha="center",
        va="bottom" if top else "top",
        fontsize=10,
        color=ACCENT if turns else INK,
        weight="bold" if turns else "normal",
    )


def _lean_arrow(axes: Axes, result: Level) -> None:
    """Point to the low side; the arrow grows with the lean up to 2 degrees."""
    # the arrow points downhill, a slope is given uphill
    x, y = -result.slope_x.value, -result.slope_y.value
    lean = math.hypot(x, y)
    axes.text(0.5, 0.82, f"leans {lean:.2f} deg", ha="center", fontsize=10, color=INK)
    if lean > LEAST_LEAN:
        size = 0.12 + 0.22 * min(1.0, lean / MOST_LEAN)
        axes.annotate(
            "",
            xy=(0.5 + size * x / lean, 0.45 + size * y / lean),
            xytext=(0.5, 0.45),
            arrowprops={"arrowstyle": "-|>", "color": ACCENT, "linewidth": 3},
        )
        axes.text(0.5, 0.08, "arrow: the low side", ha="center", fontsize=8, color=INK)


def runout_figure(result: Runout) -> Figure:
    """Gaps round the rim in mm as read (dots) and as fitted (line), twelve o'clock at the top."""
    figure = _blank(4.2)
    axes = cast("PolarAxes", figure.add_subplot(1, 1, 1, projection="polar"))
    # as a clock: that is how the places were named when they were read
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    axes.set_facecolor(PAPER)
    rim = result.front
    angles, gaps = rim.known()
    # every two degrees: smooth enough for the eye
    turn = np.linspace(0, 2 * math.pi, 181)
    axes.plot(turn, _fitted(rim, turn), color=ACCENT, linewidth=2, label="fit")
    axes.plot(
        turn,
        np.full(turn.size, result.mean_gap.value),
        color=INK,
        linestyle=":",
        label="round and centred",
    )
    axes.plot(angles, gaps, "o", color=INK, markersize=7, label="read")
    axes.set_xticks(
        np.arange(12) * math.pi / 6, [str(hour or 12) for hour in range(12)], fontsize=9
    )
    axes.set_ylim(0, 1.15 * max(float(gaps.max()), result.mean_gap.value))
    axes.set_title(f"gap, mm. Off centre by {result.eccentricity}", fontsize=10, color=INK)
    axes.legend(loc="lower left", fontsize=8, frameon=False, bbox_to_anchor=(-0.15, -0.15))
    return figure


def _fitted(rim: Rim, angles: np.ndarray) -> np.ndarray:
    from counterpoise.bench.harmonics import fit_rim

    fit = fit_rim(*rim.known(), rim.sd_mm)
    return np.asarray(fit.row(angles) @ fit.coefficients)


def dampers_figure(result: DamperSet) -> Figure:
    """A bar in N for each damper with its 90 % interval; below the dashed line it is worn."""
    count = len(result.dampers)
    figure = _blank(1.2 + 0.55 * count)
    axes = figure.add_subplot(1, 1, 1)
    axes.set_facecolor(PAPER)
    forces = [damper.friction for damper in result.dampers]
    # the first damper on top, as the form asked for it
    places = np.arange(count)[::-1]
    # matplotlib wants the interval as distances below and above the value
    doubt = np.array(
        [
            [force.value - force.low for force in forces],
            [force.high - force.value for force in forces],
        ]
    )
    axes.barh(
        places,
        [force.value for force in forces],
        color=SHADE,
        edgecolor=INK,
        xerr=doubt,
        ecolor=ACCENT,
        capsize=5,
    )
    axes.set_yticks(
        places, [f"{damper.name}\n{damper.word}" for damper in result.dampers], fontsize=9
    )
    # below the line is worn, whatever the bar's colour
    axes.axvline(WORN_SHARE * result.new_n, color=INK, linestyle="--")
    axes.text(
        WORN_SHARE * result.new_n, count - 0.45, " worn below", fontsize=8, color=INK, va="bottom"
    )
    axes.set_xlim(left=0)
    axes.set_xlabel("friction, N", fontsize=9)
    axes.set_title(
        "One bad: replace the set" if result.replace_set else "The set holds",
        fontsize=10,
        loc="left",
        color=INK,
    )
    return figure
