"""Figures of the machine in motion: path of the tub, shake against speed, feet.

Black and white first, readable at 360 px. Each builder gives a matplotlib ``Figure`` that belongs
to no window; pages, terminal and paper save the same one.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from counterpoise.dynamics.machines.machine import CORNERS
from counterpoise.dynamics.motion.harmonics import total_order_amplitude
from counterpoise.report.figures.style import (
    ACCENT,
    DOTS_PER_INCH,
    INK,
    PAPER,
    WIDTH_IN,
    in_words,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from matplotlib.axes import Axes

    from counterpoise.dynamics.answers.summary import SpinStudy

# by place: the sound machine first. Told apart by the line where there is no colour
STYLES = ((INK, "-", 1.8), (ACCENT, "--", 1.8), ("#55524b", ":", 2.2), ("#6f6a60", "-.", 1.6))
_SHORTER = re.compile(rb"(\d\.\d\d)\d+")
PAPER_IN = 6.85  # 174 mm: A4 less its margins
# an axis steeper than this stands upright: the machine is loaded from the top
_UPRIGHT = 0.7
_TURNING_RPM = 30.0  # slower, a once-a-turn amplitude has no turn to be read from
_LEAST_MS2 = 1e-3  # below what a phone can read; keeps a logarithm finite


def twin_figure(studies: Mapping[str, SpinStudy]) -> Figure:
    """All three drawings on one sheet, each machine by (name) in a line style of its own."""
    figure = Figure(
        figsize=(WIDTH_IN, 10.2), dpi=DOTS_PER_INCH, facecolor=PAPER, layout="constrained"
    )
    tub, speed, feet = figure.subplots(3, 1, height_ratios=(1.25, 1.0, 1.0))
    draw_path(tub, studies)
    draw_once_a_turn(speed, studies)
    draw_feet(feet, studies)
    return figure


def paper_figure(studies: Mapping[str, SpinStudy]) -> Figure:
    """All three side by side for a sheet of paper, on white, one legend below."""
    figure = Figure(figsize=(PAPER_IN, 3.0), facecolor="white", layout="constrained")
    for axes, draw in zip(
        figure.subplots(1, 3), (draw_path, draw_once_a_turn, draw_feet), strict=True
    ):
        draw(axes, studies)
        axes.set_facecolor("white")
        axes.title.set_fontsize(8.5)
        for words in (
            axes.xaxis.label,
            axes.yaxis.label,
            *axes.get_xticklabels(),
            *axes.get_yticklabels(),
        ):
            words.set_fontsize(7.5)
        # one legend below the three: three would leave no room for the curves
        legend = axes.get_legend()
        if legend is not None:
            legend.remove()
    figure.axes[0].set_title("Path of the tub, and its room", loc="left", fontsize=8.5, color=INK)
    figure.axes[1].set_title("Top panel, once a turn", loc="left", fontsize=8.5, color=INK)
    figure.axes[2].set_title("Load on the worst foot", loc="left", fontsize=8.5, color=INK)
    handles = figure.axes[1].get_lines()
    figure.legend(
        handles=handles, loc="outside lower center", ncols=len(studies), fontsize=8.5, frameon=False
    )
    return figure


def path_figure(studies: Mapping[str, SpinStudy]) -> Figure:
    """Path of the tub in the plane across its axis, in mm."""
    return single_figure(draw_path, studies, 4.2)


def speed_figure(studies: Mapping[str, SpinStudy]) -> Figure:
    """Shake of the top panel once a turn in m/s2, against speed in rpm."""
    return single_figure(draw_once_a_turn, studies, 3.2)


def feet_figure(studies: Mapping[str, SpinStudy]) -> Figure:
    """Least load on the worst foot in N, against speed in rpm."""
    return single_figure(draw_feet, studies, 3.2)


Drawing = Callable[["Axes", "Mapping[str, SpinStudy]"], None]


def single_figure(draw: Drawing, studies: Mapping[str, SpinStudy], height_in: float) -> Figure:
    """A sheet with one drawing, ``height_in`` inches high."""
    figure = Figure(
        figsize=(WIDTH_IN, height_in), dpi=DOTS_PER_INCH, facecolor=PAPER, layout="constrained"
    )
    draw(figure.subplots(), studies)
    return figure


def label_axes(axes: Axes, title: str, across: str, up: str) -> None:
    """Paper ground, large words with units, no box on the right and top."""
    axes.set_facecolor(PAPER)
    axes.set_title(title, loc="left", fontsize=11, color=INK)
    axes.set_xlabel(across, fontsize=10, color=INK)
    axes.set_ylabel(up, fontsize=10, color=INK)
    axes.spines[["right", "top"]].set_visible(False)
    axes.tick_params(labelsize=9, colors=INK)


def draw_path(axes: Axes, studies: Mapping[str, SpinStudy]) -> None:
    """Where the tub's middle goes over the climb, in mm; the frame is the room it has."""
    styled = list(zip(studies.items(), STYLES, strict=False))
    # drawn in reverse: the sound machine is the smallest path and lies on top
    for (name, study), (colour, line, width) in reversed(styled):
        hangs = np.array([study.summary.hangs_right_mm, 0.0, -study.summary.hangs_low_mm])
        way = hangs + 1e3 * study.spin.tub_centre_m
        axes.plot(
            way[:, 0],
            across_axis(study, way),
            line,
            color=colour,
            linewidth=0.5 * width,
            label=name,
        )
    first = next(iter(studies.values())).machine
    upright_axis = abs(first.drum.axis[2]) > _UPRIGHT
    # the room the tub has before it strikes, in mm
    side = 1e3 * first.stops.side_m
    low, high = (side, side) if upright_axis else (1e3 * first.stops.down_m, 1e3 * first.stops.up_m)
    axes.plot(
        [-side, side, side, -side, -side], [-low, -low, high, high, -low], color=INK, linewidth=1.2
    )
    axes.set_aspect("equal")
    up = "to the rear, mm" if upright_axis else "up, mm"
    label_axes(axes, "Path of the tub, and the room it has", "to the right, mm", up)
    axes.legend(fontsize=9, frameon=False, loc="upper left", bbox_to_anchor=(0.0, -0.16))


def across_axis(study: SpinStudy, way: np.ndarray) -> np.ndarray:
    """The second coordinate of the plane across the drum's axis: (n,) of an (n, 3) path in mm."""
    return np.asarray(way[:, 1] if abs(study.machine.drum.axis[2]) > _UPRIGHT else way[:, 2])


def climb_samples(study: SpinStudy) -> slice:
    """The samples of the climb, from its first full turns to top speed."""
    rpm = study.spin.drum_rpm
    return slice(int(np.argmax(rpm > _TURNING_RPM)), int(np.argmax(rpm >= 0.999 * rpm.max())) + 1)


def draw_once_a_turn(axes: Axes, studies: Mapping[str, SpinStudy]) -> None:
    """Amplitude on the top panel once a turn of the drum, in m/s2 on a logarithmic scale."""
    for (name, study), (colour, line, width) in zip(studies.items(), STYLES, strict=False):
        part = climb_samples(study)
        axes.semilogy(
            study.spin.drum_rpm[part],
            np.maximum(total_order_amplitude(study.spin, 1.0)[part], _LEAST_MS2),
            line,
            color=colour,
            linewidth=width,
            label=name,
        )
    label_axes(axes, "Shake of the top panel, once a turn", "drum speed, rpm", "m/s²")


def draw_feet(axes: Axes, studies: Mapping[str, SpinStudy]) -> None:
    """Least load on the least loaded foot in N; at zero it is off the floor."""
    for (name, study), (colour, line, width) in zip(studies.items(), STYLES, strict=False):
        part = climb_samples(study)
        loads = study.spin.foot_n[part][:, :, 2]
        # the foot that comes off first is the one that walks
        foot = int(loads.min(axis=0).argmin())
        rpm, least = lower_envelope(study.spin.drum_rpm[part], loads[:, foot])
        axes.plot(rpm, least, line, color=colour, linewidth=width, label=f"{name}: {CORNERS[foot]}")
    # below the line the foot is in the air
    axes.axhline(0.0, color=INK, linewidth=0.8)
    label_axes(axes, "Least load on the foot that holds worst", "drum speed, rpm", "N")
    axes.legend(fontsize=9, frameon=False, loc="upper left", bbox_to_anchor=(0.0, -0.2))


def lower_envelope(
    rpm: np.ndarray, load: np.ndarray, pieces: int = 120
) -> tuple[np.ndarray, np.ndarray]:
    """Mean rpm and lowest load in N in each of about ``pieces`` stretches: two equal arrays."""
    # a foot unloads once a turn: what counts is how low it comes, not every turn of it
    size = max(1, rpm.size // pieces)
    n = rpm.size // size * size
    return rpm[:n].reshape(-1, size).mean(axis=1), load[:n].reshape(-1, size).min(axis=1)


def svg(figure: Figure, *, letters: str = "none") -> bytes:
    """A figure as the bytes of an SVG, the same for the same figure.

    Places are rounded to a hundredth of a point, which halves the file. ``letters`` "path" draws
    them, for paper whose typesetter has other fonts.
    """
    import matplotlib as mpl

    kept = io.BytesIO()
    with mpl.rc_context(
        {"svg.hashsalt": "counterpoise", "svg.fonttype": letters, "path.simplify_threshold": 0.5}
    ):
        in_words(figure).savefig(kept, format="svg", metadata={"Date": None})
    # drawn letters are scaled by small numbers that must stay whole: only paths are rounded
    if letters == "path":
        return re.sub(rb'd="[^"]*"', lambda path: _SHORTER.sub(rb"\1", path[0]), kept.getvalue())
    return _SHORTER.sub(rb"\1", kept.getvalue())


def save_svg(figure: Figure, path: Path | str) -> None:
    """Write a figure as SVG to a file. Raises OSError where it cannot be written."""
    from pathlib import Path

    Path(path).write_bytes(svg(figure))
