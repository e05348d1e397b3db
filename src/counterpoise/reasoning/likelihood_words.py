"""Words for how likely something is: the same on page, terminal and paper."""

from __future__ import annotations

# The least probability of each word, highest first: the first that fits is taken.
WORDS = (
    (0.97, "almost certain"),
    (0.80, "very likely"),
    (0.50, "likely"),
    (0.20, "possible"),
    (0.05, "unlikely"),
    (0.0, "hardly"),
)


def likelihood_word(probability: float) -> str:
    """The word that goes with a probability of 0 to 1."""
    return next(word for floor, word in WORDS if probability >= floor)
