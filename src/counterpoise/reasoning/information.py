"""How much is not known, and how much a check is expected to tell of it, in bits."""

from __future__ import annotations

import numpy as np

from counterpoise.reasoning.hypotheses import Floats


def entropy_bits(chances: Floats) -> float:
    """Entropy of chances (N,) that sum to one."""
    # 0 log 0 is 0
    positive = chances[chances > 0]
    return float(-(positive * np.log2(positive)).sum())


def mutual_information_bits(table: Floats, belief: Floats) -> float:
    """What a check is expected to tell: ``table`` (O, H) chances of its outcomes, (H,) belief."""
    joint = table * belief
    apart = joint.sum(axis=1, keepdims=True) * belief
    # where an outcome cannot come, it tells nothing
    ratio = np.divide(joint, apart, out=np.ones_like(joint), where=joint > 0)
    return float((joint * np.log2(ratio)).sum())
