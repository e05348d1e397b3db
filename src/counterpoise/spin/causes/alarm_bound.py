"""How strong a recording's word must be before it accuses a machine: a bound on false alarms.

A group may rise above twice its prior only where its likelihood ratio against "nothing found"
exceeds what sound machines show (split conformal: Vovk, Gammerman, Shafer, 2005, from memory). The
thresholds are quantiles over rehearsed sound machines that the model never saw. Below it the group
is held under twice its prior and what it loses goes to "nothing found": a recording that cannot
tell accuses nobody.
"""

import numpy as np

from counterpoise.spin.causes.groups import GROUPS, PRIOR
from counterpoise.spin.recording import Floats

# Share of recordings of sound machines in which any group may be raised. A tenth is promised; other
# machines than those that set the thresholds raise more (of 526 recordings 15 % where 8.5 % of the
# 387 that set them did), so they are set at less.
ALARM_SHARE = 0.07
# Just under the twice that counts as raised.
MOST_RATIO = 1.9
SOUND = GROUPS.index("nothing_found")
PRIOR_OF = np.array([PRIOR[group] for group in GROUPS])


def ratios_to_sound(p: Floats) -> Floats:
    """Likelihood ratio (n, groups) of each group against "nothing found"; 1 for itself."""
    likelihood = p / PRIOR_OF
    ratio: Floats = likelihood / likelihood[:, [SOUND]]
    return ratio


def alarm_thresholds(sound_p: Floats, share: float = ALARM_SHARE) -> Floats:
    """Least ratio (groups,) at which a group counts, from recordings (n, groups) of sound machines.

    Every group gets the same quantile, so high that at most ``share`` of the recordings raise any.
    """
    ratio = np.sort(ratios_to_sound(sound_p), axis=0)
    every = ratios_to_sound(sound_p)
    for rank in range(1, len(ratio) + 1):
        # One more than the rank, as the next recording is as likely to be the largest of all.
        thresholds = ratio[max(0, len(ratio) - rank)]
        raised = _passes(every, thresholds)
        if (raised.any(axis=1).sum() + 1) / (len(every) + 1) > share:
            thresholds = ratio[max(0, len(ratio) - rank + 1) if rank > 1 else len(ratio) - 1]
            break
    thresholds = np.maximum(thresholds, MOST_RATIO)
    thresholds[SOUND] = 0.0
    return np.asarray(thresholds, dtype=np.float64)


def _passes(ratio: Floats, thresholds: Floats) -> np.ndarray:
    passes = ratio > thresholds
    passes[:, SOUND] = False
    return passes


def bounded(p: Floats, thresholds: Floats) -> Floats:
    """Probabilities (n, groups) with every group under its threshold held under twice its prior.

    Groups held keep their order: each stands as far under the limit as its ratio under the
    threshold.
    """
    ratio = ratios_to_sound(p)
    held = ~_passes(ratio, thresholds)
    held[:, SOUND] = False
    limit = PRIOR_OF * MOST_RATIO * np.minimum(ratio / np.maximum(thresholds, 1e-9), 1.0) ** 0.5
    out = np.where(held, np.minimum(p, limit), p)
    out[:, SOUND] += 1.0 - out.sum(axis=1)
    return np.asarray(out, dtype=np.float64)


def expected_bits(p: Floats) -> float:
    """Mean over rows of the bits that calibrated probabilities expect to gain over the prior."""
    return float(np.mean(np.sum(p * np.log2(np.maximum(p, 1e-12) / PRIOR_OF), axis=1)))
