"""A slope from a bubble, a figure or a phone, and the reversal that takes the tool's own error out.

Signs: across readings (front, rear) count positive when the right side is high; along readings
(left, right) when the rear is high.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from counterpoise.bench.quantity import Quantity
from counterpoise.bench.readings import (
    BUBBLE,
    SLOPE_DEG,
    SLOPE_MM_PER_M,
    VIAL,
    possible,
    possible_sd,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

# One division of a common builder's vial; finer vials say so on the glass. From memory.
VIAL_MM_PER_M = 5.0
# A level is seldom off by more, a phone's app that nobody set not either (from memory).
LARGEST_OWN_DEG = 1.0
# Pairs read with one tool agree on its error within this, or within three doubts (from memory).
OWN_SPREAD_DEG = 0.3


def from_bubble(
    divisions: float, vial_mm_per_m: float = VIAL_MM_PER_M, sd_divisions: float = 0.2
) -> Quantity:
    """Slope in degrees of a bubble off the middle by a (fractional) number of divisions.

    Raises ReadingError for a bubble beyond the glass or a vial that is none.
    """
    possible(vial_mm_per_m, VIAL, "vial_mm_per_m")
    possible(divisions, BUBBLE, "divisions")
    return from_mm_per_m(divisions * vial_mm_per_m, sd_divisions * vial_mm_per_m)


def from_mm_per_m(slope_mm_per_m: float, sd_mm_per_m: float = 1.0) -> Quantity:
    """Slope in degrees of a rise in mm over a metre. Raises ReadingError beyond 175 mm/m."""
    possible_sd(sd_mm_per_m, SLOPE_MM_PER_M, "sd")
    possible(slope_mm_per_m, SLOPE_MM_PER_M, "slope_mm_per_m")
    degrees = math.degrees(math.atan(slope_mm_per_m / 1000))
    # the slope of the arc tangent, so that the doubt is right on a steep floor too
    per_unit = math.degrees(1e-3) / (1 + (slope_mm_per_m / 1000) ** 2)
    return Quantity.normal(degrees, sd_mm_per_m * per_unit, "deg")


def from_degrees(slope_deg: float, sd_deg: float = 0.05) -> Quantity:
    """Slope given in degrees. Raises ReadingError beyond 10 degrees."""
    possible_sd(sd_deg, SLOPE_DEG, "sd")
    return Quantity.normal(possible(slope_deg, SLOPE_DEG, "slope_deg"), sd_deg, "deg")


@dataclass(frozen=True, slots=True)
class Reversal:
    """A slope in degrees freed of the tool's own error, and that error in degrees."""

    slope: Quantity
    # what to set the tool by, or to take off the next reading
    own_error: Quantity


def reversal(first_deg: float, turned_deg: float, sd_deg: float = 0.05) -> Reversal:
    """Slope from two readings at one spot, the second with the tool turned by half a turn.

    The slope changes its sign with the turn and the tool's own error does not, so half the
    difference is the slope and half the sum the error. A phone that rounds to 0.1 degrees has an sd
    of about 0.03 a reading; 0.05 leaves room for the hand.
    """
    possible_sd(sd_deg, SLOPE_DEG, "sd")
    possible(first_deg, SLOPE_DEG, "first_deg")
    possible(turned_deg, SLOPE_DEG, "turned_deg")
    # half a difference of two readings, each with sd_deg
    sd = sd_deg / math.sqrt(2)
    return Reversal(
        Quantity.normal((first_deg - turned_deg) / 2, sd, "deg"),
        Quantity.normal((first_deg + turned_deg) / 2, sd, "deg"),
    )


def tool_questions(own_errors: Mapping[str, Quantity]) -> tuple[str, ...]:
    """What to ask of pairs of readings, by place, that mean a bad tool or a wrong sign.

    ``own_errors``: the tool's own error in degrees by each pair; empty where no place was read
    twice.
    """
    questions = [
        f"The two readings at the {place} say that the tool itself is off by"
        f" {abs(error.value):.1f} degrees. Was it turned end for end between them, and the second"
        " written with the sign that the tool showed? If so, take another tool."
        for place, error in own_errors.items()
        if abs(error.value) > LARGEST_OWN_DEG
    ]
    if questions or len(own_errors) < 2:
        return tuple(questions)
    low, high = (pick(own_errors, key=lambda place: own_errors[place].value) for pick in (min, max))
    doubt = math.hypot(own_errors[low].sd, own_errors[high].sd)
    if own_errors[high].value - own_errors[low].value <= max(OWN_SPREAD_DEG, 3 * doubt):
        return ()
    question = (
        f"One tool has one error, but the pairs say {own_errors[low].value:+.1f} degrees at the"
        f" {low} and {own_errors[high].value:+.1f} at the {high}: was a sign left out, or did"
        " something lie under the tool? Read both again."
    )
    return (question,)
