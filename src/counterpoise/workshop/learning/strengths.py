"""How much each written figure is worth against the workshop's own jobs, all `from memory`.

A figure of a published source is worth twice as much as one from memory.
"""

from __future__ import annotations

# Machines brought in: a written share may be off by a factor of two (the careful mode's range).
FAULT = 40.0
# Findings of a check under one fault, or under none of those it speaks of.
ROW = 20.0
# Repairs of one kind that were proved.
CURE = 20.0
# Timed steps: for the pace of the hand in all it does, and for one step beside that.
HAND, STEP = 20.0, 6.0
# Machines sold, for prices and days; both scatter more than minutes do.
SALE, PRICE_SPREAD, DAYS_SPREAD = 8.0, 0.35, 0.9
PUBLISHED = 2.0
# Sources that are nobody's measurement.
GENERAL = ("from memory", "invented", "common practice")
# Closed jobs of a family below which nothing is learned of it: their luck is all they would show.
LEAST_JOBS = 10
# What fewer findings or repairs than this bear on stays as written.
LEAST_COUNT = 0.5


def strength(base: float, source: str) -> float:
    """How many observations a figure is worth, by where it is from."""
    named = any(source.startswith(each) or f": {each}" in source for each in GENERAL)
    return base if named or not source else base * PUBLISHED
