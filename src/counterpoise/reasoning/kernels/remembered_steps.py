"""The steps planned so far, remembered by the state they were planned in."""

from typing import NamedTuple

import numpy as np

from counterpoise.reasoning.hypotheses import Ints

SPREAD = 0x9E3779B97  # odd: spreads what stands open over a key


class Remembered(NamedTuple):
    """The steps planned so far, by the key of the state: M places, a power of two.

    A key is made of random numbers for each finding and repair, by the count of repairs before it:
    what was found between two repairs counts in any order, with what stands open after it.
    """

    parts: Ints  # (D + 1, C + R, O) random, above 0
    keys: Ints  # (M,) 0 where free
    acts: Ints  # (M,)
    filled: Ints  # (1,) places taken


def new_memory(steps: int, actions: int, outcomes: int, places: int) -> Remembered:
    """Nothing planned yet, for at most ``places`` states (a power of two); always alike."""
    parts = np.random.default_rng(1).integers(
        1, np.iinfo(np.int64).max, (steps + 1, actions, max(outcomes, 1))
    )
    empty = np.zeros(places, dtype=np.int64)
    return Remembered(parts, empty, empty.copy(), np.zeros(1, dtype=np.int64))
