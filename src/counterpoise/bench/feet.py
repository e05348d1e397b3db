"""Four feet under a stiff cabinet: what the floor and the feet make of it, and which foot to turn.

Foot order everywhere: front left, front right, rear left, rear right. Heights in mm, upwards.
Geometry of four supports is plain algebra; the turns come from a small search over whole steps
whose optimum is exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from counterpoise.bench.readings import FOOT_MM, METRE, possible
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

# Finest and widest tolerance, in degrees and mm: a quarter turn of an M8 moves a corner by 0.3 mm.
LEAST_TOLERANCE = 0.05
MOST_TOLERANCE = 10.0

FEET = ("front left", "front right", "rear left", "rear right")
PITCH_MM = {"M6": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75}  # coarse pitches, ISO 261 (from memory)
_FRACTIONS = {0: "", 1: "1/8", 2: "1/4", 3: "3/8", 4: "1/2", 5: "5/8", 6: "3/4", 7: "7/8"}


@dataclass(frozen=True, slots=True)
class Feet:
    """Distances between the feet (m), their thread, how far each stands out and may do so (mm).

    Where the extension is not known, leave it at 0: then no foot is ever asked to go in.
    """

    width_m: float = 0.5
    depth_m: float = 0.5
    pitch_mm: float = PITCH_MM["M8"]
    extension_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    limit_mm: float = 20.0

    def __post_init__(self) -> None:
        """Raises ReadingError for feet that cannot be."""
        for name in ("width_m", "depth_m"):
            possible(getattr(self, name), METRE, name)
        for foot, extension in zip(FEET, self.extension_mm, strict=True):
            possible(extension, FOOT_MM, "extension_mm")
            if extension > self.limit_mm:
                raise ReadingError(
                    f"the {foot} foot stands out {extension:g} mm but may only "
                    f"{self.limit_mm:g} mm",
                    field="extension_mm",
                    remedy="measure the thread that shows, or give the true limit",
                )

    @property
    def rock_arm_mm(self) -> float:
        """Distance in mm of a foot from the diagonal through its neighbours: where it rocks."""
        return 1000 * self.width_m * self.depth_m / math.hypot(self.width_m, self.depth_m)

    @property
    def step_turns(self) -> float:
        """Smallest turn that is asked for: a quarter, an eighth where the pitch is coarse."""
        return 0.25 if self.pitch_mm <= 1.6 else 0.125


def slopes_of(heights_mm: Array, width_m: float, depth_m: float) -> tuple[float, float]:
    """Least-squares slopes (rad) of four heights: right side high, rear high."""
    fl, fr, rl, rr = heights_mm
    return float(((fr + rr) - (fl + rl)) / (2000 * width_m)), float(
        ((rl + rr) - (fl + fr)) / (2000 * depth_m)
    )


def twist_of(heights_mm: Array) -> float:
    """Twist w (mm) of four heights: one foot misses the plane of the others by ``4 * abs(w)``."""
    fl, fr, rl, rr = heights_mm
    return float((fl - fr - rl + rr) / 4)


def rock_deg(gap_mm: float, feet: Feet) -> float:
    """Angle (deg) by which a cabinet rocks when one foot floats by ``gap_mm``."""
    return math.degrees(math.atan(gap_mm / feet.rock_arm_mm))


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What counts as level (degrees) and as standing firm (mm).

    Defaults: common practice (about one degree, no visible rock), halved.
    """

    slope_deg: float = 0.5
    gap_mm: float = 0.5

    def __post_init__(self) -> None:
        """Raises ReadingError for what no foot can be turned to, or what is no tolerance."""
        # A quarter turn of an M8 moves a corner by 0.3 mm, 0.04 degrees over half a metre.
        for value, field, unit in (
            (self.slope_deg, "within_deg", "degrees"),
            (self.gap_mm, "within_mm", "mm"),
        ):
            if not LEAST_TOLERANCE <= value <= MOST_TOLERANCE:
                raise ReadingError(
                    f"good enough within {value:g} {unit}",
                    field=field,
                    remedy=f"{LEAST_TOLERANCE:g} to {MOST_TOLERANCE:g} {unit} is possible; "
                    "0.5 is usual",
                )


@dataclass(frozen=True, slots=True)
class FootTurn:
    """Turn one foot: ``turns`` > 0 screws it out and raises the corner by ``change_mm``."""

    foot: str
    turns: float
    change_mm: float

    @property
    def text(self) -> str:
        """Say it so that it can be done lying on the floor."""
        way = (
            "out, clockwise seen from above: raises it"
            if self.turns > 0
            else "in, anticlockwise seen from above: lowers it"
        )
        return (
            f"{self.foot} foot: {spell_turns(abs(self.turns))} {way} ({abs(self.change_mm):.1f} mm)"
        )


def spell_turns(turns: float) -> str:
    """Write 1.25 as ``1 1/4 turns``."""
    eighths = round(turns * 8)
    parts = [str(eighths // 8) if eighths >= 8 else "", _FRACTIONS[eighths % 8]]
    return f"{' '.join(part for part in parts if part) or '0'} turn{'s' if eighths > 8 else ''}"


@dataclass(frozen=True, slots=True)
class FootAdvice:
    """Which feet to turn, where that leaves the machine, and whether that is good enough."""

    turns: tuple[FootTurn, ...]
    after_x_deg: float
    after_y_deg: float
    after_gap_mm: float
    reachable: bool


def supports_mm(slope_x_deg: float, slope_y_deg: float, gaps_mm: Array, feet: Feet) -> Array:
    """Heights (4,) in mm at which floor and foot would meet the cabinet: slopes and gaps."""
    # about the middle of the cabinet, front left first
    x = np.array([-0.5, 0.5, -0.5, 0.5]) * feet.width_m * 1000 * math.tan(math.radians(slope_x_deg))
    y = np.array([-0.5, -0.5, 0.5, 0.5]) * feet.depth_m * 1000 * math.tan(math.radians(slope_y_deg))
    return x + y - gaps_mm


def advise(supports: Array, feet: Feet, tolerance: Tolerance, *, leave: bool) -> FootAdvice:
    """Fewest turns that bring slopes and gap well inside the tolerance.

    No foot goes below its stop or past its limit. ``supports`` are the four heights of
    ``supports_mm``; ``leave`` says that the machine is good as it stands.
    """
    steps = np.zeros(4) if leave else _fewest_steps(supports, feet, tolerance)
    change = steps * feet.step_turns * feet.pitch_mm
    # the cabinet settles on the mean of the four where they do not lie in a plane
    after = supports + change
    x, y = (
        math.degrees(math.atan(slope)) for slope in slopes_of(after, feet.width_m, feet.depth_m)
    )
    gap = 4 * abs(twist_of(after))
    turns = tuple(
        FootTurn(foot, float(step * feet.step_turns), float(moved))
        for foot, step, moved in zip(FEET, steps, change, strict=True)
        if step
    )
    # a plain bool: numpy's own is none to JSON
    good = bool(leave or (max(abs(x), abs(y)) <= tolerance.slope_deg and gap <= tolerance.gap_mm))
    return FootAdvice(turns, x, y, gap, good)


# Rows that give, from four heights, their rise to the right and to the rear (each of two pairs) and
# their twist.
_FORMS = np.array([[-1.0, 1.0, -1.0, 1.0], [-1.0, -1.0, 1.0, 1.0], [1.0, -1.0, -1.0, 1.0]])


def _fewest_steps(supports: Array, feet: Feet, tolerance: Tolerance) -> Array:
    """Whole steps a foot, fewest in all, that bring slopes and gap to half the tolerance.

    The other half is left to reading errors and a soft floor. Where the feet do not reach that far,
    as much of the lean is taken out as they allow without making one float; where not even that
    goes, nothing is turned.
    """
    step = feet.step_turns * feet.pitch_mm
    now = _FORMS @ supports / step
    room = _room_steps(feet, tolerance, step)
    extension = np.asarray(feet.extension_mm)
    low = np.ceil(-extension / step - 1e-9)
    high = np.floor((feet.limit_mm - extension) / step + 1e-9)
    # as much of the lean as the feet reach: all of it, or less in steps of a fortieth
    for stays in np.linspace(0, 1, 41):
        steps = _search(now - stays * now * [1, 1, 0], room, low, high)
        if steps is not None:
            return steps
    return np.zeros(4)


def _room_steps(feet: Feet, tolerance: Tolerance, step_mm: float) -> Array:
    """Size that each of the three forms may have afterwards, in steps."""
    # A gap cannot be made finer than half a step.
    gap = max(tolerance.gap_mm / 2, step_mm / 2)
    slope = math.tan(math.radians(tolerance.slope_deg)) / 2
    size = 2000 * np.array([feet.width_m, feet.depth_m])
    # A remaining gap lets the cabinet settle to either side of the mean slope.
    slopes = np.maximum(slope - gap / size, slope / 2)
    return np.array([*(slopes * size), gap]) / step_mm


def _search(now: Array, room: Array, low: Array, high: Array) -> Array | None:
    """Fewest steps (4,) within ``low`` to ``high`` that bring the forms within ``room``, or None.

    Every change of the three forms is tried. Each leaves one freedom, raising all feet alike, in
    which the sum of steps is least at the median foot; so the optimum is exact.
    """
    ranges = [
        np.arange(math.ceil(-form - size), math.floor(-form + size) + 1)
        for form, size in zip(now, room, strict=True)
    ]
    forms = np.stack([grid.ravel() for grid in np.meshgrid(*ranges, indexing="ij")])
    # all three odd or all three even: others would ask for parts of a step
    forms = forms[:, ((forms[:2] - forms[2]) % 2 == 0).all(0)]
    base = _FORMS.T @ forms / 4
    lowest, highest = (low[:, None] - base).max(0), (high[:, None] - base).min(0)
    fits = lowest <= highest + 1e-9
    if not fits.any():
        return None
    base, lowest, highest, forms = base[:, fits], lowest[fits], highest[fits], forms[:, fits]
    # between the second and the third foot any height takes the same sum of steps: try both ends
    middle = np.sort(-base, axis=0)
    steps = np.hstack([np.round(base + np.clip(middle[k], lowest, highest)) for k in (1, 2)])
    left = np.abs(now[:, None] + forms) / room[:, None]
    # Fewest steps first, then fewest feet, then the truest stand.
    cost = np.abs(steps).sum(0) + 0.01 * (steps != 0).sum(0) + 1e-3 * np.tile(left.max(0), 2)
    return np.asarray(steps[:, int(np.argmin(cost))])
