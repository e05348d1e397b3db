"""What a reading can be at all; what cannot be asks back before it counts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.errors import ReadingError

if TYPE_CHECKING:
    from collections.abc import Iterable


# Slips of the decimal point and of the unit (mm for cm, m for mm, g for kg), likeliest first.
_SLIPS = (0.1, 0.01, 0.001, 10.0, 100.0)
# Finer than this no doubt is stated by anybody, in any unit here; smaller numbers are slips, and
# squares of them vanish.
LEAST_SD = 1e-6


@dataclass(frozen=True, slots=True)
class Span:
    """The possible range of a reading: ``what`` it is in words, its ends (both valid) and unit.

    ``slips``: factors by which a reading may be off by mistake, to ask "did you mean?"; no
    ``slips_below``: what lies below the range is no such slip.
    """

    what: str
    low: float
    high: float
    unit: str
    slips: tuple[float, ...] = _SLIPS
    slips_below: bool = True


# Ends are wide on purpose: beyond them a slip of the decimal point is likelier than the reading.
# All from memory.
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
# a lost point makes 350 of 35.0, but -300 is no -3.0: colder than any winding, it is no reading
CELSIUS = Span("a temperature", -20.0, 150.0, "°C", slips_below=False)
MEGOHM = Span("an insulation reading", 0.0, 1e5, "Mohm")
MILLIAMPERE = Span("a leakage current", 0.0, 100.0, "mA")
EARTH_OHM = Span("an earth reading", 0.0, 1e6, "ohm")
TURNING_RPM = Span("a drum speed", 1.0, 3000.0, "rpm")
LENGTH_CM = Span("a distance", 0.0, 300.0, "cm")
ANGLE_DEG = Span("a twist of the body", 0.0, 135.0, "degrees")
METRE = Span("a size", 0.05, 2.0, "m")
# Closer to the ankles than this no machine is between the hands.
REACH_CM = Span("a reach of the hands", 10.0, 300.0, "cm")
NOMINAL_KG = Span("a whole counterweight", 0.5, 30.0, "kg")
VIAL = Span("a division of a vial", 0.05, 60.0, "mm/m")
STIFFNESS_N_PER_M = Span("a stiffness", 1e3, 1e5, "N/m", slips=(1e3,))
METER_PERCENT = Span("a meter's doubt", 0.0, 50.0, "%")


def possible(value: float, span: Span, field: str = "") -> float:
    """Give the value back if it can be.

    Raises ReadingError that names the range and asks "did you mean?" in the span's unit.
    """
    # a number that is none (nan) lies between no ends
    if span.low <= value <= span.high:
        return value
    shown = "not a number" if math.isnan(value) else f"{value:g} {span.unit}"
    meant = _meant(value, span)
    asked = f"read it again and give it in {span.unit}"
    raise ReadingError(
        f"{span.what} of {shown} cannot be right "
        f"(possible: {span.low:g} to {span.high:g} {span.unit})",
        field=field,
        remedy=asked if meant is None else f"did you mean {_figure(meant)} {span.unit}?",
        meant=meant,
    )


def _meant(value: float, span: Span) -> float | None:
    """The nearest slip that would make sense: a lost sign, then a lost point; None for none."""
    if value < span.low and not span.slips_below:
        return None
    # only where no negative reading can be is a minus a slip
    bases = [abs(value), value] if value < 0 <= span.low else [value]
    for base in bases:
        for factor in (1.0, *span.slips):
            # zero times anything is zero: no slip of it means something else
            if (
                math.isfinite(base)
                and span.low <= base * factor <= span.high
                and base * factor != 0
            ):
                return base * factor
    return None


def possible_sd(sd: float, span: Span, field: str = "sd") -> float:
    """Give a stated doubt (sd) of such a reading back if it can be; 0 says that it is exact.

    Raises ReadingError for what is negative, beyond the whole range, or next to nothing.
    """
    if sd == 0 or LEAST_SD <= sd <= span.high - span.low:
        return sd
    raise ReadingError(
        f"a doubt (sd) of {sd:g} {span.unit} for {span.what} cannot be right",
        field=field,
        remedy=f"give how far off one reading may be in {span.unit}, above 0",
    )


def _figure(value: float) -> str:
    # at least one decimal, or the point that was lost would still not be seen
    text = f"{value:.3g}"
    return text if "." in text or abs(value) >= 100 else f"{text}.0"


def all_possible(values: Iterable[float], span: Span, field: str = "") -> tuple[float, ...]:
    """Check a row of readings. Raises ReadingError for one that cannot be, and for an empty row."""
    checked = tuple(possible(value, span, field) for value in values)
    if not checked:
        raise ReadingError(
            f"{span.what} is missing",
            field=field,
            remedy=f"give at least one reading in {span.unit}",
        )
    return checked
