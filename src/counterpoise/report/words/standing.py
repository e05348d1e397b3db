"""How a suspect stands among the others, and how well a value is known, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from counterpoise.report.words.numbers import about, chance

if TYPE_CHECKING:
    from counterpoise.workshop.diagnosis.assessment import Assessment, Suspect

# below it a word such as "unlikely" stood beside the first of all suspects
_LIKELY = 0.5


def standing(suspect: Suspect, first: bool) -> str:
    """A suspect's word and chance (0 to 1, in per cent); ``first``: no other is likelier.

    The first of many slight suspicions is not called unlikely: nothing is likelier.
    """
    if first and suspect.probability < _LIKELY:
        return f"likeliest so far, {chance(suspect.probability)}"
    return f"{suspect.word} {chance(suspect.probability)}"


def bounds(assessment: Assessment, currency: str) -> str:
    """The bounds of what going on is worth, from minor units: ``at least 47, at best 86 EUR``."""
    low = about(assessment.lower_minor, currency).removesuffix(currency).strip()
    return f"at least {low}, at best {about(assessment.upper_minor, currency)}"
