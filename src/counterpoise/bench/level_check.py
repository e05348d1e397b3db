"""The level again after the feet were turned: whether it is level now, and the turns did that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from counterpoise.bench.level import Level, LevelReadings, level
from counterpoise.bench.quantity import Quantity, Result, Scale

if TYPE_CHECKING:
    from collections.abc import Mapping

    from counterpoise.bench.feet import Feet, Tolerance

# How far a foot may settle when the locknut draws it up, as a slope in degrees (estimate).
SETTLES_DEG = 0.05


@dataclass(frozen=True, kw_only=True)
class LevelCheck(Result):
    """The check after the feet were turned: level now, and did the turns do what was foreseen."""

    SCALES: ClassVar[Mapping[str, Scale]] = Level.SCALES

    lean: Quantity
    lean_rise: Quantity
    gap: Quantity | None
    chance_good: float
    # the turns did what the advice foresaw, within the doubt of both measurements
    as_foreseen: bool
    now: Level


@dataclass(frozen=True, slots=True)
class LevelForecast:
    """Where the machine stood (slopes with doubt) and where the turns were to bring it, degrees."""

    slope_x: Quantity
    slope_y: Quantity
    after_x_deg: float
    after_y_deg: float

    @classmethod
    def of(cls, before: Level) -> LevelForecast:
        """Take what matters from the first measurement, in degrees."""
        return cls(
            before.slope_x, before.slope_y, before.advice.after_x_deg, before.advice.after_y_deg
        )


def confirm(
    before: LevelForecast,
    readings: LevelReadings,
    feet: Feet | None = None,
    tolerance: Tolerance | None = None,
) -> LevelCheck:
    """Compare new readings with what the advice foresaw, to 3 sd.

    Raises ReadingError as ``level`` does.
    """
    now = level(readings, feet, tolerance)
    foreseen = np.array([before.after_x_deg, before.after_y_deg])
    start, after = (np.array([stand.slope_x.value, stand.slope_y.value]) for stand in (before, now))
    sd = np.array(
        [
            math.hypot(before.slope_x.sd, now.slope_x.sd),
            math.hypot(before.slope_y.sd, now.slope_y.sd),
        ]
    )
    doubt = np.hypot(sd, SETTLES_DEG)
    as_foreseen = bool(np.all(np.abs(after - foreseen) <= 3 * doubt))
    # as far as foreseen, but to the other side of where it stood
    mirrored = bool(np.all(np.abs(after - (2 * start - foreseen)) <= 3 * doubt))
    if as_foreseen:
        verdict = "The feet did what was foreseen. "
    elif mirrored:
        verdict = "It moved the other way: the feet were turned the wrong way round. "
    else:
        verdict = "It did not move as foreseen: was another foot turned, or does the floor give? "
    # level at last: then the corners and a spin are the proof, not the bubble
    rest = (
        "Press each corner: none may go down. Then spin it."
        if not now.advice.turns and now.advice.reachable
        else now.sentence
    )
    return LevelCheck(
        sentence=verdict + rest,
        cautions=now.cautions,
        chance_good=now.chance_good,
        as_foreseen=as_foreseen,
        lean=now.lean,
        lean_rise=now.lean_rise,
        gap=now.gap,
        now=now,
    )
