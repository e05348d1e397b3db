"""Level and feet: does it lean, does it rock, which foot turns which way, and did that do it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy import special

from counterpoise.bench.cautions import HEAVY, TIPPED
from counterpoise.bench.feet import FEET, Feet, FootAdvice, Tolerance, advise, rock_deg, supports_mm
from counterpoise.bench.quantity import Quantity, Result, Scale, magnitude
from counterpoise.bench.readings import FLOAT_MM, possible, possible_sd
from counterpoise.bench.slopes import tool_questions
from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Mapping

# every corner was pressed and none went down
NO_FOOT = "none"


@dataclass(frozen=True, slots=True)
class LevelReadings:
    """Slopes (degrees) across at front and rear, along at left and right; the foot that floats.

    At least one across and one along. ``floating`` names the foot that floats, ``none`` where every
    corner was pressed and none went down, nothing where they were not pressed. ``gap_mm`` is what
    slides under that foot, or how far its corner goes down.
    """

    front: Quantity | None = None
    rear: Quantity | None = None
    left: Quantity | None = None
    right: Quantity | None = None
    floating: str = ""
    gap_mm: float = 0.0
    # a feeler gauge, or a ruler beside the pressed corner (estimate)
    gap_sd_mm: float = 0.1
    # the tool's own error, degrees, by each place that was read twice
    own_errors: Mapping[str, Quantity] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Level(Result):
    """How the machine stands. Slopes: right side high, rear high. ``gap`` None: not pressed."""

    SCALES: ClassVar[Mapping[str, Scale]] = {
        "lean": Scale(
            (0.5, 1.5), ("level", "leans", "leans badly"), "common practice, from memory"
        ),
        "gap": Scale(
            (0.5, 2.0),
            ("stands firm", "a foot is short", "a foot hangs"),
            "common practice, from memory",
        ),
    }

    # slope of the steepest line, whichever way it runs
    lean: Quantity
    # the same in mm/m, as levels and the catalog have it
    lean_rise: Quantity
    slope_x: Quantity
    slope_y: Quantity
    gap: Quantity | None
    rock: Quantity | None
    floating: str
    # that it stands well now, and once the advice was followed: 0 to 1
    chance_good: float
    chance_after: float
    advice: FootAdvice
    # what does not fit: a bent top, feet that do not reach
    remarks: tuple[str, ...]


def level(
    readings: LevelReadings, feet: Feet | None = None, tolerance: Tolerance | None = None
) -> Level:
    """Slopes, rock and foot advice from level readings.

    Raises ReadingError where a direction is missing or a gap cannot be.
    """
    feet, tolerance = feet or Feet(), tolerance or Tolerance()
    slope_x, bent_x = _combine(readings.front, readings.rear, "across", "front", "rear")
    slope_y, bent_y = _combine(readings.left, readings.right, "along", "left", "right")
    gap = _gap(readings)
    # one foot floats at most: on four feet the two beside it carry
    gaps = np.array([readings.gap_mm * (foot == readings.floating) for foot in FEET])
    good = (
        max(abs(slope_x.value), abs(slope_y.value)) <= tolerance.slope_deg
        and float(gaps.max()) <= tolerance.gap_mm
    )
    advice = advise(
        supports_mm(slope_x.value, slope_y.value, gaps, feet), feet, tolerance, leave=good
    )
    # The advice is followed exactly; what was not known before is not known after either.
    left = Quantity.normal(advice.after_gap_mm, gap.sd, "mm") if gap else None
    after = _chance(
        _at(advice.after_x_deg, slope_x), _at(advice.after_y_deg, slope_y), left, tolerance
    )
    # one doubt for both directions, as the length of a vector wants it
    both_sd = math.hypot(slope_x.sd, slope_y.sd) / math.sqrt(2)
    lean = magnitude(math.hypot(slope_x.value, slope_y.value), both_sd, "deg")
    return Level(
        lean=lean,
        lean_rise=lean.scaled(1000 * math.radians(1), "mm/m"),
        slope_x=slope_x,
        slope_y=slope_y,
        gap=gap,
        rock=gap.scaled(rock_deg(1.0, feet), "deg") if gap else None,
        floating=readings.floating,
        chance_good=_chance(slope_x, slope_y, gap, tolerance),
        chance_after=after,
        advice=advice,
        remarks=(*tool_questions(readings.own_errors), *bent_x, *bent_y, *_cannot_reach(advice)),
        sentence=_sentence(slope_x, slope_y, gap, readings.floating, advice)
        + _how_sure(advice, after),
        cautions=(HEAVY, TIPPED),
    )


def _combine(
    here: Quantity | None, there: Quantity | None, way: str, first: str, second: str
) -> tuple[Quantity, tuple[str, ...]]:
    """Weighted mean of two parallel readings; beyond 3 sd their difference is the doubt."""
    # a slope across says nothing of the slope along, so each direction needs a reading
    given = [reading for reading in (here, there) if reading is not None]
    if not given:
        raise ReadingError(
            f"no reading {way} the machine",
            field=first,
            remedy=f"lay the level {way} at the {first} or the {second}",
        )
    # an exact reading counts as one with a millionth of a degree
    weights = np.array([1 / max(reading.sd, 1e-6) ** 2 for reading in given])
    mean = float(weights @ [reading.value for reading in given] / weights.sum())
    sd = float(1 / math.sqrt(weights.sum()))
    if (
        here is None
        or there is None
        or abs(here.value - there.value) <= 3 * max(math.hypot(here.sd, there.sd), 1e-6)
    ):
        return Quantity.normal(mean, sd, "deg"), ()
    remark = (
        f"The {first} says {here.value:.2f} and the {second} {there.value:.2f} degrees: the top is "
        "bent, or one was read the wrong way round. Read again with the level turned end for end."
    )
    return Quantity.normal(mean, abs(here.value - there.value) / 2, "deg"), (remark,)


def _gap(readings: LevelReadings) -> Quantity | None:
    """Gap under the floating foot; None where the corners were not pressed."""
    possible(readings.gap_mm, FLOAT_MM, "gap_mm")
    # "not pressed" and "none floats" must stay apart: only the second is a finding
    named = (*FEET, NO_FOOT)
    if readings.floating and readings.floating not in named:
        raise ReadingError(
            f"no foot is called {readings.floating!r}",
            field="floating",
            remedy=f"one of: {', '.join(named)}",
        )
    if readings.gap_mm > 0 and readings.floating in {"", NO_FOOT}:
        raise ReadingError(
            "a gap, but no foot that floats", field="floating", remedy=f"name it: {', '.join(FEET)}"
        )
    if not readings.floating:
        return None
    gap = Quantity.normal(readings.gap_mm, possible_sd(readings.gap_sd_mm, FLOAT_MM), "mm")
    # no gap is below nothing
    return Quantity(gap.value, gap.sd, "mm", max(0.0, gap.low), gap.high)


def _at(value: float, like: Quantity) -> Quantity:
    return Quantity.normal(value, like.sd, like.unit)


def _chance(x: Quantity, y: Quantity, gap: Quantity | None, tolerance: Tolerance) -> float:
    """Chance (0 to 1) that slopes and gap, where looked for, are within tolerance; independent."""
    level_too = _chance_within(x, tolerance.slope_deg) * _chance_within(y, tolerance.slope_deg)
    return level_too if gap is None else level_too * gap.outcome_weights([tolerance.gap_mm])[0]


def _how_sure(advice: FootAdvice, chance: float) -> str:
    return f" Chance that this does it: {100 * chance:.0f} %; check again." if advice.turns else ""


def _chance_within(slope: Quantity, limit: float) -> float:
    # exact: within or not
    if slope.sd == 0:
        return float(abs(slope.value) <= limit)
    return float(
        special.ndtr((limit - slope.value) / slope.sd)
        - special.ndtr((-limit - slope.value) / slope.sd)
    )


def _cannot_reach(advice: FootAdvice) -> tuple[str, ...]:
    if advice.reachable:
        return ()
    # what remains is told, so that the plate can be as thick as it must
    # rubber gives and cardboard gets wet: the machine would rock again
    left = max(abs(advice.after_x_deg), abs(advice.after_y_deg))
    remark = (
        f"The feet cannot take up all of it: {left:.2f} degrees and {advice.after_gap_mm:.1f} mm "
        "would remain. "
        "Put a firm plate (not rubber, not cardboard) under the low corners and measure again."
    )
    return (remark,)


def _sentence(
    slope_x: Quantity, slope_y: Quantity, gap: Quantity | None, floating: str, advice: FootAdvice
) -> str:
    across = (
        f"{abs(slope_x.value):.2f} degrees {'right' if slope_x.value >= 0 else 'left'} side high"
    )
    along = f"{abs(slope_y.value):.2f} degrees {'rear' if slope_y.value >= 0 else 'front'} high"
    # silence would read as "no foot floats"
    if gap is None:
        rocks = "the corners were not pressed, so a foot may still float"
    else:
        rocks = (
            "no foot floats"
            if floating == NO_FOOT
            else f"the {floating} foot floats by {gap.value:.1f} mm"
        )
    if not advice.turns:
        do = (
            "Leave the feet as they are."
            if advice.reachable
            else "Turning feet does not help here."
        )
    else:
        do = (
            "Loosen the locknuts, then turn "
            + "; ".join(turn.text for turn in advice.turns)
            + ". Tighten the locknuts."
        )
    return f"It stands {across} and {along}; {rocks}. {do}"
