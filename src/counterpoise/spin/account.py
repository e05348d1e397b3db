"""What a recording says without a word about causes: how fast, how loud, how often it knocks.

It stands alone for kinds of machine that no cause was rehearsed on.
"""

import numpy as np

from counterpoise.spin.causes.verdict import Verdict, sentence, unusable_reason
from counterpoise.spin.proof import run_level, spin_level
from counterpoise.spin.reading import Reading


def said(reading: Reading, verdict: Verdict) -> str:
    """What a recording says, in sentences; of a kind without causes, levels and the reason."""
    if not reading.kind.no_cause:
        return sentence(verdict)
    reason = unusable_reason(reading)
    if reason:
        return f"This recording cannot tell. {reason}"
    return f"{account(reading)} {reading.kind.no_cause}"


def account(reading: Reading) -> str:
    """Speed, shake and knocks of one recording in a sentence."""
    if not reading.kind.spins:
        run = run_level(reading)
        return f"It shook by {run.shake_ms2:.2g} m/s2 as it ran, and {_knocks(run.knocks_per_s)}."
    level = spin_level(reading)
    parts = [f"It reached {level.top_rpm:.0f} rpm" if level.top_rpm else "It never got up to speed"]
    if np.isfinite(level.full_mm_s):
        parts.append(f"at full speed its top moved at {level.full_mm_s:.2g} mm/s")
    if np.isfinite(level.worst_ms2):
        parts.append(f"at the worst on the way up it shook by {level.worst_ms2:.2g} m/s2")
    return f"{', '.join(parts)}, and {_knocks(level.knocks_per_s)}."


def _knocks(per_s: float) -> str:
    # fewer than one in twenty seconds is laundry that falls
    return f"it knocked {per_s:.1f} times a second" if per_s > 0.05 else "it did not knock"
