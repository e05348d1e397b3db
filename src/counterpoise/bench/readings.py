"""What a reading can be at all; what cannot be asks back before it counts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class Span:
    """The possible range of a reading: ``what`` it is in words, its ends and unit."""

    what: str
    low: float
    high: float
    unit: str


# Ends are wide on purpose: beyond them a slip of the decimal point is likelier than the reading. All from
# memory.
GAP_MM = Span("a gap", 0.0, 30.0, "mm")
RUNOUT_MM = Span("a runout", 0.0, 30.0, "mm")
PLAY_MM = Span("a play", 0.0, 30.0, "mm")
SLOPE_DEG = Span("a slope", -10.0, 10.0, "degrees")
SLOPE_MM_PER_M = Span("a slope", -175.0, 175.0, "mm/m")
BUBBLE = Span("a bubble", -4.0, 4.0, "divisions")
FOOT_MM = Span("the thread showing on a foot", 0.0, 80.0, "mm")
FLOAT_MM = Span("the gap under a foot", 0.0, 20.0, "mm")
FORCE_N = Span("a force", 0.0, 500.0, "N")
SCALE_KG = Span("a scale reading", 0.0, 50.0, "kg")
AMPLITUDE_MM = Span("a push of the tub", 1.0, 80.0, "mm")
BOUNCES = Span("a count of bounces", 0.0, 60.0, "bounces")
LENGTH_MM = Span("a spring length", 50.0, 500.0, "mm")
SAG_MM = Span("a sag", -30.0, 60.0, "mm")
WEIGHT_KG = Span("a counterweight", 0.0, 30.0, "kg")
MACHINE_KG = Span("the mass of a machine", 2.0, 150.0, "kg")
OHM = Span("a resistance", 0.0, 1e7, "ohm")
CELSIUS = Span("a temperature", -20.0, 150.0, "°C")
MEGOHM = Span("an insulation reading", 0.0, 1e5, "Mohm")
MILLIAMPERE = Span("a leakage current", 0.0, 100.0, "mA")
EARTH_OHM = Span("an earth reading", 0.0, 1e6, "ohm")
SPEED_RPM = Span("a speed", 0.0, 2000.0, "rpm")
LENGTH_CM = Span("a distance", 0.0, 300.0, "cm")
ANGLE_DEG = Span("a twist of the body", 0.0, 135.0, "degrees")
METRE = Span("a size", 0.05, 2.0, "m")


def possible(value: float, span: Span, field: str = "") -> float:
    """Give the value back if it can be; else raise ReadingError that asks "did you mean?" with the unit."""
    if span.low <= value <= span.high:
        return value
    shown = "not a number" if math.isnan(value) else f"{value:g} {span.unit}"
    meant = _meant(value, span)
    asked = f"read it again and give it in {span.unit}"
    raise ReadingError(
        f"{span.what} of {shown} cannot be right (possible: {span.low:g} to {span.high:g} {span.unit})",
        field=field,
        remedy=asked if meant is None else f"did you mean {_figure(meant)} {span.unit}?",
        meant=meant,
    )


def _meant(value: float, span: Span) -> float | None:
    """Find the nearest slip that would make sense: a lost sign first, then a lost decimal point."""
    slips = [value, abs(value)] if value < 0 <= span.low else [value]
    for base in reversed(slips):
        for factor in (1, 0.1, 0.01, 0.001, 10, 100):
            if (
                math.isfinite(base)
                and span.low <= base * factor <= span.high
                and base * factor != 0
            ):
                return base * factor
    return None


def _figure(value: float) -> str:
    text = f"{value:.3g}"
    return text if "." in text or abs(value) >= 100 else f"{text}.0"


def all_possible(values: Iterable[float], span: Span, field: str = "") -> tuple[float, ...]:
    """Check a row of readings; there must be at least one."""
    checked = tuple(possible(value, span, field) for value in values)
    if not checked:
        raise ReadingError(
            f"{span.what} is missing",
            field=field,
            remedy=f"give at least one reading in {span.unit}",
        )
    return checked
