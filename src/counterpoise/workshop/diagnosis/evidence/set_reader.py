"""The reader of spins as closed jobs have set it."""

from __future__ import annotations

import numpy as np

from counterpoise.catalog.check_parts import RECORDING, TEST_LOAD
from counterpoise.catalog.family import CheckEntry, Family
from counterpoise.learning.readers import recalibrated
from counterpoise.reasoning.hypotheses import Floats

# where the settings of a reader stand among a family's figures, and the name of its temperature
SPIN, TEMPERATURE, WEIGHT = "spin", "temperature", "weight"


def power_and_weights(entry: CheckEntry) -> tuple[float, Floats]:
    """What the words of a check's recordings are raised to, and weighed with (O,)."""
    weights = np.array([entry.reader.get(f"{WEIGHT}.{name}", 1.0) for name in entry.outcomes])
    return 1.0 / entry.reader.get(TEMPERATURE, 1.0), weights


def spin_outcomes(family: Family) -> tuple[str, ...]:
    """What a recording can point to, in order; empty where the family knows no recording."""
    check = family.checks.get(RECORDING)
    return tuple(check.outcomes) if check else ()


def reads_spins(family: Family, check: str) -> bool:
    """Whether a check's answers are those of the reader of spins."""
    entry = family.checks.get(check)
    known = check in {RECORDING, TEST_LOAD} and entry is not None
    # a workshop's own family may name others: then they are not the same words
    return bool(known and entry and tuple(entry.outcomes) == spin_outcomes(family))


def as_set(entry: CheckEntry, words: Floats) -> Floats:
    """Words (..., O) of a recording as they count, each row of sum 1; as read where none is set."""
    return recalibrated(words, *power_and_weights(entry)) if entry.reader else words


__all__ = [
    "SPIN", "TEMPERATURE", "WEIGHT", "as_set", "power_and_weights", "reads_spins", "spin_outcomes",
]  # fmt: skip
